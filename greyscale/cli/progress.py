"""A bar, or what is being done, on standard error while something takes longer than a moment."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from threading import Timer
from typing import TypeVar

from greyscale.cli.voice import is_quiet

Item = TypeVar("Item")

PATIENCE = 1.0
"""Seconds before a bar is shown."""


@contextmanager
def progress(what: str, known: bool = True) -> Iterator[Callable[[float], None]]:
    """Yield a function to be called with the share of the work done, from 0 to 1.

    A bar is shown once the work has taken a second; never where standard error is no terminal.

    Parameters
    ----------
    known
        Whether anything tells how much is left; else it is said for how long the work lasts.
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
