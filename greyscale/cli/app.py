"""The program: its commands in the order of the work, and how it ends on bad input."""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer

from greyscale import __version__
from greyscale.cli.analyse import analyse
from greyscale.cli.apply import apply
from greyscale.cli.chart import chart
from greyscale.cli.check import check
from greyscale.cli.compare import compare
from greyscale.cli.correct import correct
from greyscale.cli.demo import demo
from greyscale.cli.drying import drying
from greyscale.cli.lights import lights
from greyscale.cli.log import log
from greyscale.cli.preview import preview
from greyscale.cli.verify import verify

# Command modules import nothing heavy at their top: `--help` must stay instant.

app = typer.Typer(
    name="greyscale",
    help="Make black-and-white prints neutral: measure them, judge them under any light, "
    "correct them, prove it.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"greyscale {__version__}")
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    pass


app.command()(demo)
app.command()(chart)
app.command()(check)
app.command()(drying)
app.command()(analyse)
app.command()(lights)
app.command()(compare)
app.command()(correct)
app.command()(verify)
app.command()(apply)
app.command()(preview)
app.add_typer(log)


def main() -> None:
    """Run the program; a person's mistake ends in one message and exit code 2."""
    from greyscale.errors import BadInput

    # The matrices are small: threads gain nothing, and on a busy machine they wait for each
    # other. Set before NumPy is imported, which no command has done yet.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        app()
    except BadInput as error:
        typer.echo(f"greyscale: {error}", err=True)
        sys.exit(2)
