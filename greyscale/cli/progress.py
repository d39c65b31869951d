"""A bar, or what is being done, on standard error while something takes longer than a moment."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from threading import Timer
from typing import TYPE_CHECKING, TypeVar

from greyscale.cli.voice import is_quiet

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress

Item = TypeVar("Item")

PATIENCE = 1.0
"""Seconds before a bar is shown."""


@contextmanager
def progress(what: str) -> Iterator[Callable[[float], None]]:
    """Give a function to be called with the share of the work done, from 0 to 1.

    A bar is shown once the work has taken a second; never where standard error is no terminal.
    """
    console = _terminal()
    if console is None:
        yield lambda done: None
        return
    from rich.progress import Progress

    bar = Progress(console=console, transient=True)
    task = bar.add_task(what, total=1.0)
    with _shown_soon(bar):
        yield lambda done: bar.update(task, completed=done)


@contextmanager
def working(what: str) -> Iterator[None]:
    """Say what is being done and for how long, where nothing tells how much is left."""
    console = _terminal()
    if console is None:
        yield
        return
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn())
    bar = Progress(*columns, console=console, transient=True)
    bar.add_task(what, total=None)
    with _shown_soon(bar):
        yield


def _terminal() -> Console | None:
    """Standard error, where it is a terminal and is to be written to."""
    from rich.console import Console

    console = Console(stderr=True)
    return console if console.is_terminal and not is_quiet() else None


@contextmanager
def _shown_soon(bar: Progress) -> Iterator[None]:
    """Show a bar while what is within lasts, from a second on."""
    soon = Timer(PATIENCE, bar.start)
    soon.daemon = True
    soon.start()
    try:
        yield
    finally:
        soon.cancel()
        soon.join()
        bar.stop()


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
