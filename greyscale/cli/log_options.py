"""Options that several commands of the print log share."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

LogOption = Annotated[
    bool, typer.Option("--log", help="Add it to the print log, see 'greyscale log'.")
]
DbOption = Annotated[
    Path | None,
    typer.Option(
        "--db",
        metavar="FILE",
        help="The print log's file; by default it is in your user data folder.",
        show_default=False,
    ),
]
PrinterOption = Annotated[
    str | None, typer.Option(metavar="TEXT", help="The printer.", show_default=False)
]
PaperOption = Annotated[
    str | None, typer.Option(metavar="TEXT", help="The paper.", show_default=False)
]
InksOption = Annotated[
    str | None, typer.Option(metavar="TEXT", help="The inks.", show_default=False)
]
SettingsOption = Annotated[
    str | None, typer.Option(metavar="TEXT", help="The printer's settings.", show_default=False)
]
SinceOption = Annotated[
    datetime | None,
    typer.Option(
        formats=["%Y-%m-%d"],
        metavar="YYYY-MM-DD",
        help="Nothing before this day.",
        show_default=False,
    ),
]
UntilOption = Annotated[
    datetime | None,
    typer.Option(
        formats=["%Y-%m-%d"],
        metavar="YYYY-MM-DD",
        help="Nothing after this day.",
        show_default=False,
    ),
]


def name_damages(damages: Sequence[object], what: str) -> None:
    """Name each damaged entry on the error stream, and end with exit code 1; none: go on."""
    if not damages:
        return
    for damage in damages:
        typer.echo(f"greyscale: {damage}", err=True)
    number = "1 entry is" if len(damages) == 1 else f"{len(damages)} entries are"
    typer.echo(f"greyscale: {number} {what}", err=True)
    raise typer.Exit(1)
