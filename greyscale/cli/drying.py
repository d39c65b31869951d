"""`greyscale drying`: when a print is dry, and whether a reading can be trusted yet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from greyscale.cli.shared_options import (
    DbOption,
    JsonOption,
    LayoutOption,
    LogOption,
    OpenOption,
    PaperOption,
    PdfOption,
    PrinterOption,
    RampOption,
    ReplaceOption,
    ReportOption,
    UncheckedOption,
    check_report,
    open_page,
)
from greyscale.cli.voice import EveryOption, QuietOption

if TYPE_CHECKING:
    from greyscale.readings.layout import Layout
    from greyscale.readings.reading import Reading


def drying(
    readings: Annotated[
        list[Path],
        typer.Argument(
            metavar="READING READING",
            help="Readings of one print at different times, or one file with a column HOURS.",
        ),
    ],
    hours: Annotated[
        str | None,
        typer.Option(
            metavar="H,H,...",
            help="Hours after printing, one for each reading in their order: 0.2,1,24. Without "
            "it: HOURS in the files, else when they were measured (CREATED).",
        ),
    ] = None,
    layout: LayoutOption = None,
    ramp: RampOption = None,
    json_file: JsonOption = None,
    folder: ReportOption = None,
    pdf: PdfOption = False,
    shown: OpenOption = False,
    unchecked: UncheckedOption = False,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: EveryOption = False,
    paper: PaperOption = None,
    printer: PrinterOption = None,
    log: LogOption = False,
    db: DbOption = None,
) -> None:
    """See how a print dries: what changed, what is still to come, when it can be measured.

    Example: greyscale drying fresh.txt evening.txt next-day.txt --hours 0.2,6,24 -o drying
    """
    from greyscale.analysis.drying import drying as follow_drying
    from greyscale.base.files import keep_inputs
    from greyscale.cli.checking import chart_of, checked
    from greyscale.cli.progress import working
    from greyscale.cli.recording import is_wanted, record_drying

    recording = is_wanted(log, db)
    check_report(folder, pdf, shown)
    read_in = _readings(readings, ramp, chart_of(layout))
    checks = checked(read_in, unchecked)
    times = None if hours is None else _numbers(hours)
    with working("Following the drying"):
        result = follow_drying(read_in, times)
    if json_file not in (None, "-"):
        keep_inputs(readings, [json_file])
    page = None
    if folder is not None:
        from greyscale.cli.shared_options import command_line
        from greyscale.reporting.drying_report import drying_report
        from greyscale.reporting.report_folder import write_report

        with working("Drawing the report"):
            report = drying_report(result, command_line()).with_fact("Checks", checks)
            page = write_report(folder, report, pdf=pdf)
    if json_file is not None:
        from greyscale.reporting.drying_report import drying_data
        from greyscale.reporting.json_output import write_json

        write_json(drying_data(result), json_file)
    if json_file != "-":
        from rich.console import Console

        from greyscale.reporting.drying_words import show_drying

        show_drying(result, Console(highlight=False), every=verbose, written=page)
    if recording:
        last = read_in[-1]
        record_drying(
            db,
            result,
            printer=printer or last.printer,
            paper=paper or last.paper,
            quiet=json_file == "-",
        )
    if page is not None and shown:
        open_page(page)


def _readings(
    paths: list[Path], ramp: Literal["K", "CMY"] | None, chart: Layout | None
) -> list[Reading]:
    """Read every file; of several conditions in one the first in use, of several times each."""
    from greyscale.readings.formats import CONDITIONS_BY_USE, read_all

    found: list[Reading] = []
    for path in paths:
        inside = read_all(path, ramp=ramp, layout=chart)
        there = {reading.condition for reading in inside}
        condition = next((name for name in CONDITIONS_BY_USE if name in there), None)
        found += [reading for reading in inside if reading.condition == condition]
    return found


def _numbers(text: str) -> list[float]:
    from greyscale.base.errors import BadInput

    try:
        # A minus as it is set in print may come along when a list is copied.
        return [float(part.replace("\N{MINUS SIGN}", "-")) for part in text.split(",")]
    except ValueError as error:
        raise BadInput(
            f"'{text}' is not a list of hours; write it as 0.2,1,24", "--hours"
        ) from error
