"""`greyscale log`: the print log; its commands, in the order of use."""

from __future__ import annotations

from typing import Any

import typer
from typer.core import TyperGroup

from greyscale.cli.contents import Commands

NAMES = (
    "add",
    "list",
    "show",
    "print",
    "status",
    "trend",
    "export",
    "import",
    "gather",
    "check",
    "rescue",
)


class _LogCommands(TyperGroup):
    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.commands: Any = Commands(dict.fromkeys(NAMES), "greyscale.cli.log_")

    def list_commands(self, ctx: Any) -> list[str]:
        return list(self.commands)


log = typer.Typer(
    name="log",
    cls=_LogCommands,
    help="Keep a print log: readings, corrections, prints; see whether a printer has changed.",
    short_help="Keep a print log; see whether a printer has changed.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
