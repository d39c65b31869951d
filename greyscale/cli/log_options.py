"""Options that several commands of the print log share."""

from __future__ import annotations

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
    ),
]
PrinterOption = Annotated[str | None, typer.Option(metavar="TEXT", help="The printer.")]
PaperOption = Annotated[str | None, typer.Option(metavar="TEXT", help="The paper.")]
InksOption = Annotated[str | None, typer.Option(metavar="TEXT", help="The inks.")]
SettingsOption = Annotated[str | None, typer.Option(metavar="TEXT", help="The printer's settings.")]
SinceOption = Annotated[
    datetime | None,
    typer.Option(formats=["%Y-%m-%d"], metavar="YYYY-MM-DD", help="Nothing before this day."),
]
UntilOption = Annotated[
    datetime | None,
    typer.Option(formats=["%Y-%m-%d"], metavar="YYYY-MM-DD", help="Nothing after this day."),
]
