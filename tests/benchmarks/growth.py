"""How time and memory grow with the size of what is given: the exponent p of size ** p."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.ratios import processor_time


@dataclass(frozen=True)
class Growth:
    """A line of the table.

    Attributes
    ----------
    what, by
        What was done, and of what there was more and more.
    sizes
        How many, rising.
    seconds
        Processor time at each size.
    peaks
        Most memory beyond what was held before, at each size; bytes.
    limit
        The most that the exponent of time may be.
    """

    what: str
    by: str
    sizes: tuple[int, ...]
    seconds: tuple[float, ...]
    peaks: tuple[int, ...]
    limit: float

    @property
    def of_time(self) -> float:
        """The exponent of time."""
        return exponent(self.sizes, self.seconds)

    @property
    def of_memory(self) -> float:
        """The exponent of memory."""
        return exponent(self.sizes, self.peaks)


GROWTHS: list[Growth] = []
"""What this run has found, for the table."""


def exponent(sizes: Sequence[int], values: Sequence[float]) -> float:
    """Give the slope of the straight line through the logarithms.

    Examples
    --------
    >>> round(exponent([1, 2, 4], [3.0, 12.0, 48.0]), 6)
    2.0
    """
    return float(np.polyfit(np.log(sizes), np.log(values), 1)[0])


def hold_growth(
    what: str,
    by: str,
    work: Callable[[int], Callable[[], object]],
    sizes: Sequence[int],
    limit: float,
    runs: int = 3,
    peak: Callable[[int], int] | None = None,
) -> None:
    """Measure at each size; hold the exponents of time and memory to a limit.

    Parameters
    ----------
    work
        Makes ready for a size, and gives what is to be measured.
    peak
        Gives the most memory at a size, bytes; by default what Python and NumPy allocate.
    """
    ready = [work(size) for size in sizes]
    # Of another size, since what was computed of the same may be kept.
    work(sizes[0] // 2)()
    seconds = [min(processor_time(do) for _ in range(runs)) for do in ready]
    peaks = [_traced(do) for do in ready] if peak is None else [peak(size) for size in sizes]
    found = Growth(what, by, tuple(sizes), tuple(seconds), tuple(peaks), limit)
    GROWTHS.append(found)
    print(
        f"\n{what}: time grows with {by} ** {found.of_time:.2f} (limit {limit:g}), "
        f"memory ** {found.of_memory:.2f}, from {sizes[0]} to {sizes[-1]}"
    )
    assert found.of_time <= limit
    assert found.of_memory <= limit


def _traced(work: Callable[[], object]) -> int:
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
