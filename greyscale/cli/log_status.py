"""`greyscale log status`: every printer and paper at a glance, and what to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from greyscale.cli.shared_options import (
    DbOption,
    JsonOption,
    PaperOption,
    PrinterOption,
    ReplaceOption,
    ReportOption,
    SettingsOption,
)
from greyscale.cli.voice import QuietOption, VerboseOption

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


def status(
    printer: PrinterOption = None,
    paper: PaperOption = None,
    settings: SettingsOption = None,
    json_file: JsonOption = None,
    folder: ReportOption = None,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
    db: DbOption = None,
) -> None:
    """See every printer and paper at a glance, and what to do next.

    Of each: the last reading, the correction in force and its proof, whether the printer drifts.
    Of a name, a part is enough.

    Example: greyscale log status --paper cotton
    """
    from datetime import datetime

    from greyscale.base.errors import BadInput
    from greyscale.records.print_log import open_log
    from greyscale.records.standings import standings
    from greyscale.reporting.status_words import statuses

    with open_log(db) as log:
        place = log.path
        found = standings(log, printer=printer, paper=paper, settings=settings, watched=_watched)
        if not found:
            raise BadInput(
                "holds no reading or correction as asked for; 'greyscale log list' shows what is "
                "there",
                log.path,
            )
    rows = statuses(found, datetime.now(), db)
    if json_file is not None:
        from greyscale.reporting.json_output import write_json
        from greyscale.reporting.status_report import status_data

        write_json(status_data(rows), json_file)
    if json_file != "-":
        from rich.console import Console

        from greyscale.reporting.status_words import show_status

        show_status(rows, Console(highlight=False))
    if folder is not None:
        from greyscale.cli.progress import working
        from greyscale.cli.shared_options import command_line
        from greyscale.reporting.report_folder import write_report
        from greyscale.reporting.status_report import status_report

        with working("Drawing the report"):
            page = write_report(folder, status_report(rows, command_line()), inputs=[place])
        if json_file != "-":
            typer.echo(f"\nThe report is {page}")


def _watched(entries: Sequence[int]) -> Iterator[int]:
    from greyscale.cli.progress import tracked

    return tracked(entries, "Analysing")
