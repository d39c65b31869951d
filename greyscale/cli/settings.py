"""`greyscale settings`: which of the driver's settings to correct from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli.shared_options import (
    JsonOption,
    LayoutOption,
    OpenOption,
    PdfOption,
    ReplaceOption,
    ReportOption,
    UncheckedOption,
    check_report,
    open_page,
)
from greyscale.cli.voice import EveryOption, QuietOption


def settings(
    readings: Annotated[
        list[Path],
        typer.Argument(
            metavar="READING READING",
            help="A reading of each setting's strip, all on the same paper; see 'greyscale chart "
            "--settings'.",
        ),
    ],
    json_file: JsonOption = None,
    folder: ReportOption = None,
    pdf: PdfOption = False,
    shown: OpenOption = False,
    layout: LayoutOption = None,
    unchecked: UncheckedOption = False,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: EveryOption = False,
) -> None:
    """Choose the driver's media setting, ink limit or grey mode before correcting anything.

    Example: greyscale settings matt-1.txt matt-2.txt -o my-settings
    """
    from rich.console import Console

    from greyscale.base.files import keep_inputs
    from greyscale.cli.checking import chart_of, checked
    from greyscale.cli.progress import tracked, working
    from greyscale.correction.settings import choose_settings
    from greyscale.readings.formats import read
    from greyscale.reporting.settings_report import (
        settings_data,
        settings_report,
        show_settings,
    )

    check_report(folder, pdf, shown)
    chart = chart_of(layout)
    given = [read(path, layout=chart) for path in tracked(readings, "Reading")]
    checks = checked(given, unchecked)
    with working("Trying what a correction would leave"):
        found = choose_settings(given)
    if json_file is not None:
        from greyscale.reporting.json_output import write_json

        if json_file != "-":
            keep_inputs(readings, [json_file])
        write_json(settings_data(found), json_file)
    page = None
    if folder is not None:
        from greyscale.cli.shared_options import command_line
        from greyscale.reporting.report_folder import write_report

        with working("Drawing the report"):
            report = settings_report(found, command_line()).with_fact("Checks", checks)
            page = write_report(folder, report, pdf=pdf)
    if json_file != "-":
        show_settings(found, Console(highlight=False), verbose, page)
    if page is not None and shown:
        open_page(page)
