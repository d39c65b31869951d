"""`greyscale log export`: the print log in open formats."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli.recording import name_damages
from greyscale.cli.shared_options import DbOption, ReplaceOption
from greyscale.cli.voice import QuietOption, VerboseOption


def export(
    target: Annotated[
        Path,
        typer.Option(
            "-o",
            metavar="FILE.json|DIR",
            help="One JSON file with everything in it; or a folder: JSON, and the files as they "
            "were added.",
        ),
    ],
    db: DbOption = None,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """Write the whole print log in open formats.

    An entry that is damaged is left out and named; the exit code is 1 then.

    Example: greyscale log export -o print-log.json
    """
    from greyscale.cli.progress import working
    from greyscale.records.export import export_folder, export_json
    from greyscale.records.print_log import open_log

    with working("Writing the print log"), open_log(db) as log:
        write = export_json if target.suffix.lower() == ".json" else export_folder
        count, damages = write(log, target)
    typer.echo(f"{count} {'entry' if count == 1 else 'entries'} written to {target}")
    name_damages(damages, "left out")
