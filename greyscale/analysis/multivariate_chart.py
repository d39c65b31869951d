"""Have several quantities that are measured together changed: one control chart for them all.

A self-starting multivariate EWMA beside Hotelling's T² (after ISO 7870, Control charts, parts 2 and
6, by title; Lowry et al. 1992, A multivariate exponentially weighted moving average control chart;
Hawkins and Maboudou-Tchao 2007, Self-starting multivariate EWMA charting; memory). Every reading is
held against what those before it say: each departure becomes, through Student's t, a number that is
standard normal for as long as nothing changes, however few readings there are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array

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
        from scipy.special import ndtri, stdtr

        seen = self.count - 1
        relative = float(np.sum(self.squares / self.usual**2))
        whole = (_OF_ALL + relative) / (_OF_ALL + seen * self.usual.size)
        freedom = _OF_EACH + seen
        variance = (_OF_EACH * whole * self.usual**2 + self.squares) / freedom
        away = (values - self.mean) / np.sqrt(variance * (1 + 1 / self.count))
        # From the far side, where a probability near one would be rounded to it.
        share = np.maximum(stdtr(freedom, -np.abs(away)), 1e-300)
        return np.asarray(-np.sign(away) * ndtri(share))

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
        So many readings come before the first that can raise an alarm.
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
        if index >= least and (jump > JUMP_LIMIT or slow > AVERAGE_LIMIT):
            jumped = jump > JUMP_LIMIT
            pending = [index]
            if jumped:
                # It counts for itself: the average goes on from what was before.
                average, weight = np.zeros(usual.size), 0.0
        elif baseline is None or index < baseline:
            before.add(each, normal)
    if not pending:
        return Alarm(None, None, tuple(came_back))
    return Alarm(pending[0], _since(values, usual, before, pending, came_back), tuple(came_back))


def _since(
    values: Array, usual: Array, before: _Before, pending: list[int], came_back: list[int]
) -> int:
    """The first reading after the change, along the way that the latest ones have gone."""
    from greyscale.analysis.control_chart import change_point

    way = (values[pending].mean(axis=0) - before.mean) / usual**2
    kept = [index for index in range(len(values)) if index not in came_back]
    return kept[change_point(values[kept] @ way)]
