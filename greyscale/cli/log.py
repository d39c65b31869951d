"""`greyscale log`: the print log; its commands, in the order of use."""

from __future__ import annotations

import typer

from greyscale.cli.log_add import add
from greyscale.cli.log_export import export
from greyscale.cli.log_import import import_
from greyscale.cli.log_list import list_
from greyscale.cli.log_show import show
from greyscale.cli.log_trend import trend

log = typer.Typer(
    name="log",
    help="Keep a print log: readings, corrections, notes; see whether a printer has changed.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
log.command()(add)
log.command("list")(list_)
log.command()(show)
log.command()(trend)
log.command()(export)
log.command("import")(import_)
