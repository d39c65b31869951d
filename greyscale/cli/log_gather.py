"""`greyscale log gather`: the print log of a folder, made of the files that lie in it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli.voice import QuietOption, VerboseOption


def gather(
    folder: Annotated[
        Path,
        typer.Argument(metavar="FOLDER", help="As 'greyscale page' keeps it."),
    ],
    db: Annotated[
        Path | None,
        typer.Option(
            "--db", metavar="FILE", help="The print log's file; by default it is in FOLDER."
        ),
    ] = None,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """Rebuild a folder's print log from the files in it.

    Each folder in it is a paper. What the log holds already stays.

    Example: greyscale log gather . --db studio-log.sqlite3
    """
    from greyscale.base.plain_text import as_typed
    from greyscale.cli.progress import working
    from greyscale.page.gather import gather as gather_all
    from greyscale.page.gather import refuse_empty
    from greyscale.page.papers import LOG
    from greyscale.records.print_log import open_log

    target = folder / LOG if db is None else db
    if not folder.is_dir():
        from greyscale.base.errors import BadInput

        raise BadInput("is not a folder; give the one that 'greyscale page' is served from", folder)
    refuse_empty(folder)
    with working("Reading and judging what lies there"), open_log(target, write=True) as log:
        done = gather_all(log, folder)
    new = sum(one.new for one in done)
    typer.echo(f"{new} added, {len(done) - new} there already: {target}. See all at a glance:")
    typer.echo(f"  {as_typed('log', 'status', '--db', target)}")
