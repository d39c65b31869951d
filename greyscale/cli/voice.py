"""How much the program says: `--quiet` and `--verbose`, the same for every command."""

from __future__ import annotations

import logging
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from io import TextIOBase
from typing import Annotated, TextIO

import typer


def is_quiet() -> bool:
    """Say whether nothing is to be said that is no mistake."""
    return isinstance(sys.stdout, _Silence)


class _Silence(TextIOBase):
    """Standard output that passes on JSON, where that was asked for, and nothing else.

    The options of a command are read one by one; so it looks only when something is written.
    """

    def __init__(self, context: typer.Context, spoken: TextIO) -> None:
        self._context, self._spoken = context, spoken

    def write(self, text: str) -> int:
        if self._context.params.get("json_file") == "-":
            self._spoken.write(text)
        return len(text)

    def flush(self) -> None:
        self._spoken.flush()

    def writable(self) -> bool:
        return True


@contextmanager
def _told(logger: logging.Logger) -> Iterator[None]:
    """Tell on standard error what the program notes down while it works."""
    handler = logging.StreamHandler()
    handler.setFormatter(logging.Formatter("greyscale: %(message)s"))
    level = logger.level
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)
    try:
        yield
    finally:
        logger.removeHandler(handler)
        logger.setLevel(level)


def _be_quiet(context: typer.Context, wanted: bool) -> bool:
    if wanted and not context.resilient_parsing:
        context.with_resource(redirect_stdout(_Silence(context, sys.stdout)))
    return wanted


def _be_verbose(context: typer.Context, wanted: bool) -> bool:
    if wanted and not context.resilient_parsing:
        context.with_resource(_told(logging.getLogger("greyscale")))
    return wanted


QuietOption = Annotated[
    bool,
    typer.Option(
        "--quiet", "-q", callback=_be_quiet, help="Say nothing unless there is a mistake."
    ),
]
VerboseOption = Annotated[
    bool,
    typer.Option(
        "--verbose", "-v", callback=_be_verbose, help="Say which files are read and written."
    ),
]
EveryOption = Annotated[
    bool,
    typer.Option(
        "--verbose",
        "-v",
        callback=_be_verbose,
        help="Show all: every tone, every reading; which files are read and written.",
    ),
]
