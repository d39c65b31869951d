"""How much the program says: `--quiet` and `--verbose`, which every command has."""

from __future__ import annotations

import logging
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, redirect_stdout
from io import TextIOBase
from typing import Annotated, Any, TextIO

import typer
from typer.core import TyperOption


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
def _told() -> Iterator[None]:
    """Tell on standard error what the program notes down while it works."""
    logger = logging.getLogger("greyscale")
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


def _while_it_runs(
    voice: Callable[[typer.Context], AbstractContextManager[Any]],
) -> Callable[[typer.Context, bool], bool]:
    """Return what an option calls, to speak in a voice until the command has ended."""

    def speak(context: typer.Context, wanted: bool) -> bool:
        if wanted and not context.resilient_parsing:
            context.with_resource(voice(context))
        return wanted

    return speak


_QUIET, _VERBOSE = ("--quiet", "-q"), ("--verbose", "-v")
_be_quiet = _while_it_runs(lambda context: redirect_stdout(_Silence(context, sys.stdout)))
_be_verbose = _while_it_runs(lambda _: _told())

Every = Annotated[
    bool,
    typer.Option(
        *_VERBOSE,
        callback=_be_verbose,
        help="Show all: every tone, every reading; which files are read and written.",
    ),
]
"""`--verbose` of a command that then shows more itself."""

OPTIONS = tuple(
    TyperOption(
        param_decls=[name[2:], name, short],
        is_flag=True,
        default=False,
        expose_value=False,
        callback=lambda context, _, wanted, speak=speak: speak(context, wanted),
        help=text,
    )
    for (name, short), speak, text in (
        (_QUIET, _be_quiet, "Say nothing unless there is a mistake."),
        (_VERBOSE, _be_verbose, "Say which files are read and written."),
    )
)
"""What every command has that declares none of that name itself."""
