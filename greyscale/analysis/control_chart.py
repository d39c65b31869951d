"""Has a measured quantity changed: control charts for individual values and moving ranges.

After ISO 7870-2, Shewhart control charts (from memory). Every value is compared with what the
differences between neighbouring values say of the ordinary variation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from greyscale.analysis.certainty import student_tail
from greyscale.colorimetry.arrays import Array, ArrayLike, runs_of

_NORMAL = NormalDist().inv_cdf

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
    steps = np.diff(x)
    signals = [Signal(RANGE, int(i) - 1, int(i)) for i in np.flatnonzero(ranges > upper_range)]
    # A stretch of seven values has six steps.
    for rule, mask, least_run, more in (
        (BEYOND, x > upper, 1, 0), (BEYOND, x < lower, 1, 0),
        (RUN_ONE_SIDE, x > centre, RUN, 0), (RUN_ONE_SIDE, x < centre, RUN, 0),
        (RISE, steps > 0, RUN - 1, 1), (FALL, steps < 0, RUN - 1, 1),
    ):  # fmt: skip
        stretches = [run for run in runs_of(mask) if run[1] - run[0] >= least_run]
        signals += [Signal(rule, first, stop - 1 + more) for first, stop in stretches]
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


# Have several quantities that are measured together changed: one control chart for them all.
#
# A self-starting multivariate EWMA beside Hotelling's T² (after ISO 7870, Control charts, parts
# 2 and 6, by title; Lowry et al. 1992, A multivariate exponentially weighted moving average
# control chart; Hawkins and Maboudou-Tchao 2007, Self-starting multivariate EWMA charting;
# memory). Every reading is held against what those before it say: each departure becomes,
# through Student's t, a number that is standard normal for as long as nothing changes, however
# few readings there are.

WEIGHT = 0.25
"""How much the latest reading weighs in the moving average."""

JUMP_LIMIT, AVERAGE_LIMIT = 23.8, 22.0
"""Limits of T² and of the moving average's, for seven quantities. Together they let a steady
printer be followed for 310 readings, on average, until the first false alarm, and 14 % of steady
ones to an alarm within 46: by simulation of 4000 series of independent normal numbers."""

BACK = 14.1
"""T² below which a reading after a jump is back where it was: 95 % of seven (chi-squared)."""

_OF_EACH, _OF_ALL, _OF_TURNS = 6.0, 4.0, 30.0  # Numbers that what is believed before is worth.
_SLOWER = 0.5  # A moving average is back within its limit when it falls below this share of it.


@dataclass(frozen=True)
class Alarm:
    """What the chart says after the last reading.

    Attributes
    ----------
    changed
        Index of the reading that raised the alarm that still stands; None where none does.
    since
        Index of the first reading after the change that it is of; None where none is.
    came_back
        Indices of readings that jumped away and were come back from.
    """

    changed: int | None
    since: int | None
    came_back: tuple[int, ...]


def _variance(squares: Array, seen: int, usual: Array) -> tuple[Array, float]:
    """What each quantity varies by, (k,), from squares of so many values; its degrees of freedom.

    What is believed before (`usual`) gives way as they come in.
    """
    relative = float(np.sum(squares / usual**2))
    whole = (_OF_ALL + relative) / (_OF_ALL + seen * usual.size)
    freedom = _OF_EACH + seen
    return (_OF_EACH * whole * usual**2 + squares) / freedom, freedom


class _Before:
    """What the readings up to now say: mean, variation of each quantity, and how they go together.

    Successive prints tell the variation from sheet to sheet; what is believed of it before
    (`usual`) gives way as they come in: first its size as a whole, then that of each quantity.
    """

    def __init__(self, usual: Array) -> None:
        self.usual = usual
        self.count = 0
        self.mean = np.zeros_like(usual)
        self.squares = np.zeros_like(usual)
        self.turns = _OF_TURNS * np.eye(usual.size)

    def departure(self, values: Array) -> Array:
        """Return standard normal numbers, if nothing has changed: one for each quantity."""
        variance, freedom = _variance(self.squares, self.count - 1, self.usual)
        away = (values - self.mean) / np.sqrt(variance * (1 + 1 / self.count))
        # From the far side, where a probability near one would be rounded to it.
        share = np.maximum(student_tail(np.abs(away), freedom), 1e-300)
        return np.array(
            [-sign * _NORMAL(one) for sign, one in zip(np.sign(away), share, strict=True)]
        )

    def joined(self, normal: Array) -> Array:
        """Return independent numbers of departures that go together, as far as was seen."""
        scale = np.sqrt(np.diag(self.turns))
        root = np.linalg.cholesky(self.turns / np.outer(scale, scale))
        return np.asarray(np.linalg.solve(root, normal))

    def add(self, values: Array, normal: Array | None = None) -> None:
        """Count a reading in."""
        if self.count:
            self.squares += (values - self.mean) ** 2 * self.count / (self.count + 1)
        if normal is not None:
            self.turns += np.outer(normal, normal)
        self.count += 1
        self.mean += (values - self.mean) / self.count


def watch(values: Array, usual: Array, least: int, baseline: int | None = None) -> Alarm:
    """Follow seven quantities, reading by reading.

    Parameters
    ----------
    values
        Shape (n, 7), the oldest first.
    usual
        Shape (7,): what each is believed to vary by from sheet to sheet, before any reading.
    least
        So many readings come before the first that the moving average can raise an alarm at, and
        that bears an earlier jump out.
    baseline
        How many of the first are counted in; None counts every reading in that raised none.
    """
    before = _Before(usual)
    pending: list[int] = []
    jumped, came_back = False, []
    average, weight = np.zeros(usual.size), 0.0
    for index, each in enumerate(values):
        if index < 2:
            before.add(each)
            continue
        normal = before.departure(each)
        free = before.joined(normal)
        jump = float(free @ free)
        if pending and index == least and BACK < jump <= JUMP_LIMIT:
            # Two or three readings tell too little of what sheets vary by: these were no jumps.
            for one in pending:
                before.add(values[one], before.departure(values[one]))
            pending, normal = [], before.departure(each)
            free = before.joined(normal)
            jump = float(free @ free)
        if pending and jumped and jump <= BACK:
            came_back += pending
            pending = []
        elif pending and jumped:
            pending.append(index)
            continue
        average = (1 - WEIGHT) * average + WEIGHT * free
        weight = (1 - WEIGHT) ** 2 * weight + WEIGHT**2
        slow = float(average @ average) / weight
        if pending and slow > _SLOWER * AVERAGE_LIMIT:
            pending.append(index)
            continue
        pending = []
        if jump > JUMP_LIMIT or (index >= least and slow > AVERAGE_LIMIT):
            jumped = jump > JUMP_LIMIT
            pending = [index]
            if jumped:
                # It counts for itself: the average goes on from what was before.
                average, weight = np.zeros(usual.size), 0.0
        elif baseline is None or index < baseline:
            before.add(each, normal)
    if not pending:
        return Alarm(None, None, tuple(came_back))
    # The first reading after the change: along the way that the latest ones have gone.
    way = (values[pending].mean(axis=0) - before.mean) / usual**2
    kept = [index for index in range(len(values)) if index not in came_back]
    return Alarm(pending[0], kept[change_point(values[kept] @ way)], tuple(came_back))


CREEP = 2e-3
"""The most that chance alone may have made a straight rise or fall as steep as one of seven
quantities shows, for it to be called a change: by itself it calls 1.5 to 3 % of steady printers
changed at some time within 46 readings that are independent, and 3 to 9 % where each is like the
one before by a correlation of 0.3; by simulation of 400 series of each size of noise."""

_MOST_ALIKE = 0.9  # Readings that are more like the one before tell of no slope at all.


def creeping(values: Array, usual: Array, left_out: Sequence[int] = ()) -> int | None:
    """Say whether readings creep: a slow drift, which a moving average follows and doesn't see.

    The slope of a straight line over each quantity, by Student's t; what each varies by is known
    as in `watch`, and more where readings are like the one before: by (1 + r) / (1 - r) in
    variance, the r of all quantities together. All readings count, the first ones too: a creep
    has no baseline that is without it.

    Parameters
    ----------
    values, usual
        As for `watch`; at least four readings.
    left_out
        Indices of readings that jumped away.

    Returns
    -------
    Index of the first reading after the middle of the change; None where none is seen.
    """
    kept = [index for index in range(len(values)) if index not in set(left_out)]
    x = values[kept]
    at = np.arange(len(x)) - (len(x) - 1) / 2
    slope = at @ x / (at @ at)
    left = x - x.mean(axis=0) - np.outer(at, slope)
    squares = np.sum(left**2, axis=0)
    variance, freedom = _variance(squares, len(x) - 2, usual)
    # What a line leaves is by some 2 / n less like the one before than it was.
    alike = float(np.mean(np.sum(left[1:] * left[:-1], axis=0) / np.maximum(squares, 1e-12)))
    alike = min(max(alike + 2.0 / len(x), 0.0), _MOST_ALIKE)
    wider = (1.0 + alike) / (1.0 - alike)
    sd = np.sqrt(variance * wider / (at @ at))
    chance = 2.0 * usual.size * float(student_tail(np.abs(slope) / sd, freedom).min())
    return kept[change_point(x @ (slope / usual**2))] if chance < CREEP else None
