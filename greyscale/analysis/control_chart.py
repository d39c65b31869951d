"""Has a measured quantity changed: control charts for individual values and moving ranges.

After ISO 7870-2, Shewhart control charts (from memory). Every value is compared with what the
differences between neighbouring values say of the ordinary variation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike, Mask

# Factors for ranges of two values: ISO 7870-2, table of factors for control limits (memory).
D2 = 1.128
"""The mean range of two values, in their standard deviations."""
D4 = 3.267
"""The upper limit of a range of two, in mean ranges."""
E2 = 3 / D2
"""Half the width between the limits of a single value, in mean ranges; 2.66."""

RUN = 7
"""So many values in a row on one side of the centre line, or in steady rise or fall, are told
from chance (ISO 7870-2, tests for patterns; memory)."""

BEYOND, RANGE, RUN_ONE_SIDE, RISE, FALL = "beyond", "range", "run", "rise", "fall"

RULES = {
    BEYOND: "beyond a limit",
    RANGE: "a jump larger than the limit of the moving range",
    RUN_ONE_SIDE: f"{RUN} or more in a row on one side of the centre line",
    RISE: f"{RUN} or more in steady rise",
    FALL: f"{RUN} or more in steady fall",
}
"""What each kind of signal means."""


@dataclass(frozen=True)
class Signal:
    """Values that chance alone hardly explains.

    Attributes
    ----------
    rule
        A key of `RULES`.
    first, last
        Indices of the values concerned.
    """

    rule: str
    first: int
    last: int


@dataclass(frozen=True, eq=False)
class ControlChart:
    """A series of values against its control limits.

    Attributes
    ----------
    values
        Shape (n,), in order of time.
    moving_range
        Shape (n,): distance from the value before; NaN for the first.
    baseline
        How many of the first values the centre and the limits are computed from.
    centre, lower, upper
        Centre line and control limits of the values.
    mean_range, upper_range
        Centre line and upper control limit of the moving ranges.
    signals
        What was found, by its last value.
    """

    values: Array
    moving_range: Array
    baseline: int
    centre: float
    lower: float
    upper: float
    mean_range: float
    upper_range: float
    signals: tuple[Signal, ...]

    @property
    def come_back_from(self) -> tuple[int, ...]:
        """Indices of values beyond a limit that the last value has nothing to do with."""
        active = self.active
        return tuple(
            index
            for signal in self.signals
            if signal.rule == BEYOND and signal not in active
            for index in range(signal.first, signal.last + 1)
        )

    @property
    def alone(self) -> tuple[int, ...]:
        """Of these, the values with a jump before and a jump back after: no step, no run."""
        jumps = {signal.last for signal in self.signals if signal.rule == RANGE}
        return tuple(i for i in self.come_back_from if {i, i + 1} <= jumps)

    @property
    def sigma(self) -> float:
        """The standard deviation of ordinary variation, as the moving ranges tell it."""
        return self.mean_range / D2

    @property
    def active(self) -> tuple[Signal, ...]:
        """The signals that the last value belongs to, and those that no value came back from.

        A value beyond a limit is come back from by one within one standard deviation of the
        centre line, or on its other side.
        """
        end = len(self.values)
        return tuple(one for one in self.signals if one.last == end - 1 or self._stays(one))

    def _stays(self, signal: Signal) -> bool:
        if signal.rule != BEYOND:
            return False
        side = np.sign(self.values[signal.first] - self.centre)
        after = side * (self.values[signal.last + 1 :] - self.centre)
        return bool(np.all(after > self.sigma))


def control_chart(
    values: ArrayLike,
    baseline: int | None = None,
    least: float = -np.inf,
    left_out: Sequence[int] = (),
) -> ControlChart:
    """Make a control chart of individual values.

    Parameters
    ----------
    values
        Shape (n,), at least two, in order of time.
    baseline
        How many of the first values the limits are computed from, at least two; None takes all.
    least
        The least value that there can be: no limit lies below it.
    left_out
        Indices of values that are known to be out of the ordinary: the limits do not come from
        them, nor from the ranges to and from them.

    Raises
    ------
    ValueError
        For fewer than two values, or a baseline that there are not so many for.

    Examples
    --------
    >>> chart = control_chart([3.0, 3.2, 2.9, 3.1, 3.0, 4.1], baseline=5)
    >>> round(chart.centre, 2), round(chart.upper, 2), chart.active[0]
    (3.04, 3.57, Signal(rule='range', first=4, last=5))
    """
    x = np.asarray(values, dtype=np.float64)
    count = x.size if baseline is None else baseline
    if not 2 <= count <= x.size:
        raise ValueError(f"limits need 2 to {x.size} values, not {count}")
    ranges = np.concatenate([[np.nan], np.abs(np.diff(x))])
    ordinary = np.arange(x.size) < count
    ordinary[list(left_out)] = False
    pairs = ordinary & np.concatenate([[False], ordinary[:-1]])
    if not pairs.any():
        ordinary, pairs = np.arange(x.size) < count, np.arange(x.size) < count
        pairs[0] = False
    centre = float(x[ordinary].mean())
    mean_range = float(ranges[pairs].mean())
    lower, upper = max(centre - E2 * mean_range, least), centre + E2 * mean_range
    upper_range = D4 * mean_range
    signals = [
        *_beyond(x, lower, upper),
        *(Signal(RANGE, int(i) - 1, int(i)) for i in np.flatnonzero(ranges > upper_range)),
        *(Signal(RUN_ONE_SIDE, *run) for run in _runs(np.sign(x - centre), RUN)),
        *_steady(x),
    ]
    return ControlChart(
        values=x,
        moving_range=ranges,
        baseline=count,
        centre=centre,
        lower=lower,
        upper=upper,
        mean_range=mean_range,
        upper_range=upper_range,
        signals=tuple(sorted(signals, key=lambda signal: (signal.last, signal.first))),
    )


def _beyond(x: Array, lower: float, upper: float) -> list[Signal]:
    """Give the stretches of values beyond one of the limits."""
    side = np.where(x > upper, 1.0, np.where(x < lower, -1.0, 0.0))
    return [Signal(BEYOND, *run) for run in _runs(side, 1)]


def _steady(x: Array) -> list[Signal]:
    """Give the stretches of values that rise, or fall, from each to the next."""
    # A stretch of seven values has six steps.
    steps = np.sign(np.diff(x))
    return [
        Signal(RISE if steps[first] > 0 else FALL, first, last + 1)
        for first, last in _runs(steps, RUN - 1)
    ]


def _runs(side: Array, least: int) -> list[tuple[int, int]]:
    """Give first and last index of each stretch of equal signs, not 0, of at least this length."""
    starts: Mask = np.concatenate([[True], side[1:] != side[:-1]])
    first = np.flatnonzero(starts)
    last = np.concatenate([first[1:] - 1, [side.size - 1]])
    kept = (side[first] != 0) & (last - first + 1 >= least)
    return [(int(a), int(b)) for a, b in zip(first[kept], last[kept], strict=True)]


def change_point(values: ArrayLike) -> int:
    """Say from which value on a series most likely has another level than before.

    By the largest cumulative sum of departures from the mean, in units of what it varies by at
    that place: the most likely place of one step in otherwise ordinary variation.

    Parameters
    ----------
    values
        Shape (n,), at least two.

    Returns
    -------
    Index of the first value after the step, 1 to n - 1.

    Examples
    --------
    >>> change_point([0.1, 0.0, 0.1, 0.0, 0.9, 1.0, 0.8])
    4
    """
    x = np.asarray(values, dtype=np.float64)
    n = x.size
    if n < 2:
        raise ValueError("a step needs two values at least")
    before = np.arange(1, n)
    total = np.cumsum(x - x.mean())[:-1]
    # Under no change the sum after k of n values has the variance k (n - k) / n.
    return int(before[np.argmax(np.abs(total) / np.sqrt(before * (n - before) / n))])
