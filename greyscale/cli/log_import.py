"""`greyscale log import`: an exported print log into this one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli.shared_options import DbOption
from greyscale.cli.voice import QuietOption, VerboseOption


def import_(
    source: Annotated[
        Path,
        typer.Argument(metavar="FILE.json|DIR", help="As 'log export' wrote it."),
    ],
    db: DbOption = None,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """Add what an exported log holds; what is there already stays.

    Example: greyscale log import print-log.json --db studio-log.sqlite3
    """
    from greyscale.cli.progress import working
    from greyscale.records.imports import import_log
    from greyscale.records.print_log import open_log

    with working("Adding to the print log"), open_log(db, write=True) as log:
        done = import_log(log, source)
    new = f"{done.added} {'entry' if done.added == 1 else 'entries'} added"
    typer.echo(f"{new}, {done.known} in the print log already.")
