"""`greyscale analyse`: what a measured grey ramp says."""

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
    NeutralOption,
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


def analyse(
    readings: Annotated[
        list[Path],
        typer.Argument(
            metavar="READING", help="Readings of printed charts: ISO 28178 text, CxF3 or CSV."
        ),
    ],
    aim: Annotated[
        str,
        typer.Option(
            autocompletion=completion.tone_aims,
            metavar="AIM",
            help="Tone aim: lstar, srgb, gamma-1.8, gamma-2.2, density, or a CSV table of "
            "level and L*.",
        ),
    ] = "lstar",
    scaling: Annotated[
        str,
        typer.Option(
            autocompletion=completion.scalings,
            metavar="SCALING",
            help="How the tone aim is fitted to the print's black and paper: linear, "
            "black-point, none.",
        ),
    ] = "linear",
    neutral: NeutralOption = "fading",
    tolerance: ToleranceOption = "exhibition",
    light: Annotated[
        list[str] | None,
        typer.Option(
            autocompletion=completion.lights,
            metavar="LIGHT",
            help="A further light besides D50, A and F11: a name or a lamp's file; repeat it "
            "for more.",
        ),
    ] = None,
    observer: Annotated[
        str | None,
        typer.Option(metavar="2|10", help="Observer; the reading's own by default."),
    ] = None,
    for_image: Annotated[
        Path | None,
        typer.Option(
            metavar="IMAGE", help="Say what it means for this picture (TIFF, PNG or JPEG)."
        ),
    ] = None,
    layout: LayoutOption = None,
    ramp: RampOption = None,
    json_file: JsonOption = None,
    folder: ReportOption = None,
    pdf: PdfOption = False,
    shown: OpenOption = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="End with 1 when a print fails its tolerance.")
    ] = False,
    unchecked: UncheckedOption = False,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: EveryOption = False,
    log: LogOption = False,
    db: DbOption = None,
) -> None:
    """See where a print departs from neutral and from its tone scale, under which light.

    Example: greyscale analyse cotton-rag.txt --light LED-B3 -o report
    """
    from greyscale.analysis.analyse import analyse as analyse_reading
    from greyscale.analysis.brighteners import with_glow
    from greyscale.base.files import keep_inputs
    from greyscale.cli.checking import chart_of, checked
    from greyscale.cli.progress import tracked, working
    from greyscale.cli.recording import is_wanted, record_readings
    from greyscale.cli.shared_options import counted_tones
    from greyscale.colorimetry.lights import REQUIRED_LIGHTS
    from greyscale.readings.formats import read
    from greyscale.reporting.next_step import after_analysis

    recording = is_wanted(log, db)
    check_report(folder, pdf, shown)
    lights = [*REQUIRED_LIGHTS, *(light or ())]
    picture = counted_tones(for_image)
    chart = chart_of(layout)
    read_in = [read(path, ramp=ramp, layout=chart) for path in readings]
    checks = checked(read_in, unchecked)
    read_in = with_glow(read_in)
    analyses = [
        analyse_reading(
            reading,
            aim=aim,
            scaling=scaling,
            neutral=neutral,
            lights=lights,
            observer=observer,
            tolerance=tolerance,
            picture=picture,
        )
        for reading in tracked(read_in, "Analysing")
    ]
    if json_file not in (None, "-"):
        keep_inputs(readings, [json_file])
    page, step = None, after_analysis(analyses, layout)
    if folder is not None:
        from greyscale.cli.shared_options import command_line
        from greyscale.reporting.analysis_report import analysis_report
        from greyscale.reporting.report_folder import write_report

        with working("Drawing the report"):
            report = analysis_report(analyses, command_line(), step).with_fact("Checks", checks)
            page = write_report(folder, report, pdf=pdf)
    if json_file is not None:
        from greyscale.reporting.json_output import analyses_data, write_json

        write_json(analyses_data(analyses), json_file)
    if json_file != "-":
        from rich.console import Console

        from greyscale.reporting.analysis_table import show

        show(analyses, Console(highlight=False), verbose, step, page)
    if recording:
        record_readings(db, readings, ramp, quiet=json_file == "-")
    if page is not None and shown:
        open_page(page)
    if strict and not all(one.passes for one in analyses):
        raise typer.Exit(1)
