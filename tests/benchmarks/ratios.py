"""How long something takes against something else in the same run."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Sequence
from time import perf_counter


def fastest(work: Callable[[], object], runs: int) -> float:
    """Give the shortest of several times, seconds: what the work takes undisturbed."""
    times = []
    for _ in range(runs):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return min(times)


def ratio(
    work: Callable[[], object], yardstick: Callable[[], object], runs: int = 7
) -> tuple[float, float, float]:
    """Time two things in turn, so that a busy machine slows both.

    Returns
    -------
    Work over yardstick, and the seconds of each.
    """
    ours, theirs = [], []
    for _ in range(runs):
        ours.append(fastest(work, 1))
        theirs.append(fastest(yardstick, 1))
    return min(ours) / min(theirs), min(ours), min(theirs)


def process(arguments: Sequence[str]) -> Callable[[], object]:
    """Make a Python process of its own, start to end."""

    def run() -> None:
        subprocess.run(
            [sys.executable, *arguments], check=True, capture_output=True, stdin=subprocess.DEVNULL
        )

    return run


def report(what: str, found: tuple[float, float, float], limit: float) -> None:
    """Print one line of the table, and hold the ratio against its limit."""
    value, ours, theirs = found
    print(f"\n{what:<58} {value:7.2f} x   (limit {limit:g})   {ours:.3f} s / {theirs:.3f} s")
    assert value <= limit
