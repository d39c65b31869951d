"""`greyscale log rescue`: what is sound of a damaged print log, into a new one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli.recording import name_damages
from greyscale.cli.shared_options import DbOption
from greyscale.cli.voice import QuietOption, VerboseOption


def rescue(
    target: Annotated[
        Path,
        typer.Option("-o", metavar="NEW.sqlite3", help="The new print log."),
    ],
    db: DbOption = None,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """Save what is sound of a damaged log in a new one.

    What is lost is named; the exit code is 1 then. The damaged log stays as it is.

    Example: greyscale log rescue -o rescued.sqlite3
    """
    from greyscale.cli.progress import working
    from greyscale.records.imports import rescue as save
    from greyscale.records.print_log import open_log

    with working("Saving what is sound"), open_log(db, damaged=True) as log:
        count, damages = save(log, target)
    typer.echo(f"{count} {'entry' if count == 1 else 'entries'} saved in {target}")
    name_damages(damages, "lost")
