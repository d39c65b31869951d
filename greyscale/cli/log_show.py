"""`greyscale log show`: one entry of the print log."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greyscale.cli.shared_options import DbOption, JsonOption, ReplaceOption
from greyscale.cli.voice import QuietOption, VerboseOption

if TYPE_CHECKING:
    from greyscale.records.entries import Entry
    from greyscale.records.print_log import PrintLog


def show(
    number: Annotated[int, typer.Argument(metavar="ENTRY", help="Its number in the list.")],
    json_file: JsonOption = None,
    folder: Annotated[
        Path | None,
        typer.Option(
            "-o", metavar="DIR", help="Write its files into this folder, as they were added."
        ),
    ] = None,
    db: DbOption = None,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """Show one entry, and get its files back.

    Example: greyscale log show 3 -o from-the-log
    """
    from greyscale.base.files import keep_inputs
    from greyscale.records.find import entry_of
    from greyscale.records.kept_files import write_files
    from greyscale.records.print_log import open_log

    with open_log(db) as log:
        entry = entry_of(log, number)
        if json_file not in (None, "-"):
            keep_inputs([log.path], [json_file])
        written = () if folder is None else write_files(log, entry, folder)
        facts = () if json_file == "-" else _facts(log, entry)
    if json_file is not None:
        from greyscale.reporting.json_output import write_json
        from greyscale.reporting.log_table import log_entry_data

        write_json(log_entry_data(entry), json_file)
    if json_file != "-":
        from rich.console import Console

        from greyscale.reporting.log_table import show_entry

        show_entry(entry, facts, Console(highlight=False))
        for path in written:
            typer.echo(f"Written: {path}")


def _facts(log: PrintLog, entry: Entry) -> tuple[tuple[str, str], ...]:
    """Return what the entry says when it is looked at now, and which entries belong to it."""
    from greyscale.analysis.analyse import analyse
    from greyscale.records.entries import CORRECTION, PRINT, READING
    from greyscale.records.find import links_of
    from greyscale.records.kept_files import correction_of, reading_of
    from greyscale.reporting.analysis_words import summary
    from greyscale.reporting.correction_words import correction_sentences
    from greyscale.reporting.log_table import edition_facts

    found = [
        (name, ", ".join(f"entry {number}" for number in numbers))
        for name, numbers in links_of(log, entry)
    ]
    if entry.kind == PRINT:
        found += edition_facts(log, entry)
    if entry.kind == READING:
        found.append(("In short", summary(analyse(reading_of(log, entry)))))
    if entry.kind == CORRECTION:
        found.append(("In short", " ".join(correction_sentences(correction_of(log, entry)))))
    return tuple(found)
