"""A bar, or what is being done, on standard error while something takes longer than a moment."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from threading import Timer
from time import monotonic
from typing import TypeVar

from greyscale.cli.voice import is_quiet

Item = TypeVar("Item")

PATIENCE = 1.0
"""Seconds before a bar is shown."""


@contextmanager
def progress(what: str) -> Iterator[Callable[[float], None]]:
    """Give a function to be called with the share of the work done, from 0 to 1.

    A bar is shown once the work has taken a second and is not nearly done; never where standard
    error is no terminal.
    """
    from rich.console import Console
    from rich.progress import Progress

    started = monotonic()
    bar = Progress(console=Console(stderr=True), transient=True)
    shown = bar.console.is_terminal and not is_quiet()
    task = bar.add_task(what, total=1.0)

    def advance(done: float) -> None:
        bar.update(task, completed=done)
        if shown and not bar.live.is_started and monotonic() - started > PATIENCE and done < 1.0:
            bar.start()

    try:
        yield advance
    finally:
        if bar.live.is_started:
            bar.stop()


@contextmanager
def working(what: str) -> Iterator[None]:
    """Say what is being done and for how long, where nothing tells how much is left."""
    from rich.console import Console
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn())
    bar = Progress(*columns, console=Console(stderr=True), transient=True)
    if not bar.console.is_terminal or is_quiet():
        yield
        return
    bar.add_task(what, total=None)
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
    with progress(what) as advance:
        for done, item in enumerate(items, start=1):
            yield item
            advance(done / len(items))
