"""`greyscale log`: the print log; its commands, in the order of use."""

from __future__ import annotations

import typer

from greyscale.cli.help_page import HelpPage
from greyscale.cli.log_add import add
from greyscale.cli.log_check import check
from greyscale.cli.log_export import export
from greyscale.cli.log_import import import_
from greyscale.cli.log_list import list_
from greyscale.cli.log_print import print_
from greyscale.cli.log_rescue import rescue
from greyscale.cli.log_show import show
from greyscale.cli.log_status import status
from greyscale.cli.log_trend import trend

log = typer.Typer(
    name="log",
    help="Keep a print log: readings, corrections, prints; see whether a printer has changed.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
log.command(cls=HelpPage)(add)
log.command("list", cls=HelpPage)(list_)
log.command(cls=HelpPage)(show)
log.command("print", cls=HelpPage)(print_)
log.command(cls=HelpPage)(status)
log.command(cls=HelpPage)(trend)
log.command(cls=HelpPage)(export)
log.command("import", cls=HelpPage)(import_)
log.command(cls=HelpPage)(check)
log.command(cls=HelpPage)(rescue)
