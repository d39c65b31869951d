"""How much the program says: `--quiet` and `--verbose`, which every command has."""

from __future__ import annotations

import logging
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, redirect_stdout
from io import TextIOBase
from threading import Timer
from typing import Annotated, Any, TextIO, TypeVar

import typer
from typer.core import TyperOption

from greyscale.base.errors import shown


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


class _Line(logging.Formatter):
    """What is told, as a terminal can show it: a name may hold anything."""

    def format(self, record: logging.LogRecord) -> str:
        return f"greyscale: {shown(record.getMessage())}"


@contextmanager
def _told() -> Iterator[None]:
    """Tell on standard error what the program notes down while it works."""
    logger = logging.getLogger("greyscale")
    handler = logging.StreamHandler()
    handler.setFormatter(_Line())
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


# A bar, or what is being done, on standard error while something takes longer than a moment.

Item = TypeVar("Item")

PATIENCE = 1.0
"""Seconds before a bar is shown."""


@contextmanager
def progress(what: str, known: bool = True) -> Iterator[Callable[[float], None]]:
    """Yield a function to be called with the share of the work done, from 0 to 1.

    A bar is shown once the work has taken a second; never where standard error is no terminal.
    Where it is not `known` how much is left, it is said for how long the work lasts.
    """
    from rich.console import Console

    console = Console(stderr=True)
    if not console.is_terminal or is_quiet():
        yield lambda done: None
        return
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn())
    bar = Progress(*(() if known else columns), console=console, transient=True)
    task = bar.add_task(what, total=1.0 if known else None)
    soon = Timer(PATIENCE, bar.start)
    soon.daemon = True
    soon.start()
    try:
        yield lambda done: bar.update(task, completed=done)
    finally:
        soon.cancel()
        soon.join()
        bar.stop()


def working(what: str) -> AbstractContextManager[object]:
    """Say what is being done and for how long, where nothing tells how much is left."""
    return progress(what, known=False)


def tracked(items: Sequence[Item], what: str) -> Iterator[Item]:
    """Yield items one by one, with a bar while that takes longer than a moment."""
    if len(items) == 1:
        with working(what):
            yield items[0]
        return
    with progress(what) as advance:
        for done, item in enumerate(items, start=1):
            yield item
            advance(done / len(items))
