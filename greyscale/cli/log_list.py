"""`greyscale log list`: what is in the print log."""

from __future__ import annotations

from typing import Annotated

import typer

from greyscale.cli.shared_options import (
    DbOption,
    InksOption,
    JsonOption,
    PaperOption,
    PrinterOption,
    ReplaceOption,
    SettingsOption,
    SinceOption,
    UntilOption,
)
from greyscale.cli.voice import QuietOption, VerboseOption


def list_(
    kind: Annotated[
        str | None,
        typer.Option(
            metavar="KIND", help="reading, correction, verification, print, drying or note."
        ),
    ] = None,
    prints: Annotated[
        bool, typer.Option("--prints", help="Prints alone, as --kind print.")
    ] = False,
    printer: PrinterOption = None,
    paper: PaperOption = None,
    inks: InksOption = None,
    settings: SettingsOption = None,
    since: SinceOption = None,
    until: UntilOption = None,
    text: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="Part of a name, a note or a file's name."),
    ] = None,
    json_file: JsonOption = None,
    db: DbOption = None,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """List what is in the print log.

    The oldest comes first. Of a name, a part is enough.

    Example: greyscale log list --kind reading --paper cotton --since 2025-03-01
    """
    from greyscale.base.files import keep_inputs
    from greyscale.records.find import Wanted, count, find
    from greyscale.records.print_log import open_log

    wanted = Wanted(
        kind="print" if prints else kind,
        printer=printer,
        paper=paper,
        inks=inks,
        settings=settings,
        since=None if since is None else since.date(),
        until=None if until is None else until.date(),
        text=text,
    )
    with open_log(db) as log, log.at_one_time():
        keep_inputs([log.path], [json_file] if json_file not in (None, "-") else [])
        entries, total = find(log, wanted), count(log)
    if json_file is not None:
        from greyscale.reporting.json_output import write_json
        from greyscale.reporting.log_table import log_data

        write_json(log_data(entries), json_file)
    if json_file != "-":
        from rich.console import Console

        from greyscale.reporting.log_table import list_table, list_words

        if entries:
            Console(highlight=False).print(list_table(entries))
        typer.echo(list_words(len(entries), total))
