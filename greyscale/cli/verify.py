"""`greyscale verify`: whether a correction worked."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli import completion
from greyscale.cli.shared_options import (
    DbOption,
    JsonOption,
    LayoutOption,
    LogOption,
    OpenOption,
    PdfOption,
    RampOption,
    ReplaceOption,
    ReportOption,
    ToleranceOption,
    UncheckedOption,
    check_report,
    open_page,
)
from greyscale.cli.voice import EveryOption, QuietOption


def verify(
    reading: Annotated[
        Path,
        typer.Argument(
            metavar="READING",
            help="Reading of a chart that was printed through the correction, with the chart's own "
            "device values.",
        ),
    ],
    correction: Annotated[
        Path,
        typer.Option(metavar="CORRECTION", help="The correction's folder."),
    ],
    tolerance: ToleranceOption = "exhibition",
    light: Annotated[
        list[str] | None,
        typer.Option(
            autocompletion=completion.lights,
            metavar="LIGHT",
            help="A further light to look at the print under; repeat it for more. It is judged by "
            "the lights that the correction was made for.",
        ),
    ] = None,
    layout: LayoutOption = None,
    ramp: RampOption = None,
    json_file: JsonOption = None,
    folder: ReportOption = None,
    pdf: PdfOption = False,
    shown: OpenOption = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="End with 1 when the print fails its tolerance.")
    ] = False,
    unchecked: UncheckedOption = False,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: EveryOption = False,
    log: LogOption = False,
    db: DbOption = None,
) -> None:
    """Prove a correction: the print made through it beside the print before and the prediction.

    Example: greyscale verify proof-reading.txt --correction harbour-light -o proof-report
    """
    from greyscale.base.files import keep_inputs
    from greyscale.cli.checking import chart_of, checked
    from greyscale.cli.progress import working
    from greyscale.cli.recording import is_wanted, record_verification
    from greyscale.correction.folder import correction_files, read_correction
    from greyscale.correction.verify import verify as judge
    from greyscale.readings.formats import read
    from greyscale.readings.lights import find_light
    from greyscale.reporting.next_step import after_verification

    recording = is_wanted(log, db)
    check_report(folder, pdf, shown)
    inputs = [reading, *correction_files(correction)]
    if json_file not in (None, "-"):
        keep_inputs(inputs, [json_file])
    made = read_correction(correction)
    chart = chart_of(layout)
    given = read(reading, ramp=ramp, layout=chart)
    checks = checked([given], unchecked, chart)
    lights = [find_light(one) for one in light or ()]
    with working("Comparing the print with what was promised"):
        verification = judge(given, made, tolerance=tolerance, lights=lights)
    page, step = None, after_verification(verification, correction, layout)
    if folder is not None:
        from greyscale.cli.shared_options import command_line
        from greyscale.reporting.report_folder import write_report
        from greyscale.reporting.verification_report import verification_report

        with working("Drawing the report"):
            report = verification_report(verification, command_line(), step)
            report = report.with_fact("Checks", checks)
            page = write_report(folder, report, inputs=inputs, pdf=pdf)
    if json_file is not None:
        from greyscale.reporting.json_output import write_json
        from greyscale.reporting.verification_report import verification_data

        write_json(verification_data(verification), json_file)
    if json_file != "-":
        from rich.console import Console

        from greyscale.reporting.verification_words import show_verification

        show_verification(verification, Console(highlight=False), verbose, step, page)
    if recording:
        record_verification(
            db, reading, correction, verification, ramp=ramp, quiet=json_file == "-"
        )
    if page is not None and shown:
        open_page(page)
    if strict and not verification.within_tolerance:
        raise typer.Exit(1)
