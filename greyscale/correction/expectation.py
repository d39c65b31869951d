"""How much of the error should go: before, and as predicted after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.certainty import LARGEST_LENGTH, MEAN_LENGTH
from greyscale.analysis.followed import SHEETS_CH, TONE_OF_SHEET
from greyscale.colorimetry.arrays import Array, Mask, runs_of
from greyscale.colorimetry.cielab import delta_Ch, mean_over_lightness

if TYPE_CHECKING:
    from greyscale.printer.solver import Solution


INDEPENDENT = 30
"""Values of a ramp that err independently: some ten tones, as in what a correction promises, by
three axes (common practice, no source)."""

UNLIKELY = 0.01
"""What chance makes less often than this is a finding."""

# Where an aim is out of the printer's reach, and what is done about it.

_CH, _L = 0.15, 0.35
"""What is solved further off than this is out of reach."""

_MOST_RUNS = 2  # Said one by one.
_NEAR_END = 0.03  # A run that comes so near to level 0 or 1 belongs to black, or to paper,
_BLEND = 0.15  # is furthest off within so much of it, and ends where it is no longer nearing
_RISE = 0.02  # the aim, but comes to be further off by this (ΔE*ab): the rest is another's.


@dataclass(frozen=True)
class Limit:
    """A run of tones where the aim as asked is out of reach, or was brought in.

    Attributes
    ----------
    kind
        "black" (blended between the printer's black and the first reachable tone), "paper" (the
        same towards bare paper), or "range" (elsewhere).
    from_level, to_level
        The run, `from_level` < `to_level`.
    max_delta_Ch, max_delta_L
        The largest distance of what was solved for from what was asked.
    message
        The same as one plain sentence.
    """

    kind: str
    from_level: float
    to_level: float
    max_delta_Ch: float
    max_delta_L: float
    message: str


def find_limits(levels: Array, solved: Array, aimed: Array) -> tuple[Limit, ...]:
    """Find the runs of tones where what was solved for is not what was asked.

    Parameters
    ----------
    levels
        Shape (n,), rising.
    solved, aimed
        Shape (n, 3): CIELAB.
    """
    off_Ch, off_L = delta_Ch(solved, aimed), np.abs(solved[:, 0] - aimed[:, 0])
    runs = _ends_joined(levels, _runs((off_Ch > _CH) | (off_L > _L)))
    runs = _ends_parted(levels, np.hypot(off_Ch, off_L), runs)
    return tuple(_limit(levels, off_Ch, off_L, first, last) for first, last in runs)


def _ends_joined(levels: Array, runs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Join the runs that belong to black, and those that belong to paper: each is said once."""
    black = [run for run in runs if levels[run[0]] <= _NEAR_END]
    paper = [run for run in runs if levels[run[1]] >= 1 - _NEAR_END and run not in black]
    between = [run for run in runs if run not in black and run not in paper]
    joined = [(group[0][0], group[-1][1]) for group in (black, paper) if group]
    return sorted([*joined, *between])


def _ends_parted(levels: Array, off: Array, runs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Part runs where the blend into black, or into paper, ends and others go on."""
    parted: list[tuple[int, int]] = []
    for first, last in runs:
        start, stop = first, last
        if levels[first] <= _NEAR_END:
            start += _blended(levels[first : last + 1], off[first : last + 1])
        if levels[last] >= 1 - _NEAR_END and start < last:
            stop -= _blended(1.0 - levels[start : last + 1][::-1], off[start : last + 1][::-1])
        ends = sorted({first, start, stop, last})
        parted += pairwise(ends)
    return parted


def _blended(levels: Array, off: Array) -> int:
    """The index at which a run from level 0 no longer nears the aim; 0 where it always does."""
    worst = int(np.argmax(np.where(levels <= _BLEND, off, 0.0)))
    further = np.maximum.accumulate(off[::-1])[::-1] - off > _RISE
    further[(np.arange(off.size) <= worst) | (levels <= _NEAR_END)] = False
    return int(np.argmax(further))


def _runs(out: Mask) -> list[tuple[int, int]]:
    """Return first and last index of each run, one index added on so that no run is a point."""
    end = out.size - 1
    return [
        (first if stop > first + 1 or stop <= end else first - 1, min(stop, end))
        for first, stop in runs_of(out)
    ]


def _limit(levels: Array, off_Ch: Array, off_L: Array, first: int, last: int) -> Limit:
    start, end = float(levels[first]), float(levels[last])
    worst_Ch, worst_L = float(off_Ch[first : last + 1].max()), float(off_L[first : last + 1].max())
    off = _by(worst_Ch, worst_L)
    if start <= _NEAR_END:
        kind = "black"
        message = (
            f"Black stays the printer's darkest, with the tint of its ink; up to level {end:.3f} "
            f"the curve blends into it, and departs from the aim {off}."
        )
    elif end >= 1 - _NEAR_END:
        kind = "paper"
        message = (
            f"Bare paper stays bare; from level {start:.3f} up the curve blends into it, and "
            f"departs from the aim {off}."
        )
    else:
        kind = "range"
        ends = f"{start:.2f}", f"{end:.2f}"
        where = (
            f"At level {ends[0]}" if ends[0] == ends[1] else f"Between levels {' and '.join(ends)}"
        )
        message = (
            f"{where} no values print the aim; the nearest possible ones depart from it {off}."
        )
    return Limit(kind, start, end, worst_Ch, worst_L, message)


def limit_words(limits: Sequence[Limit]) -> list[str]:
    """The sentences of limits; runs between black and paper that are many are one of them."""
    runs = [limit for limit in limits if limit.kind == "range"]
    if len(runs) <= _MOST_RUNS:
        return [limit.message for limit in limits]
    worst_Ch, worst_L = (max(getattr(run, of) for run in runs)
                         for of in ("max_delta_Ch", "max_delta_L"))  # fmt: skip
    return [
        *(limit.message for limit in limits if limit.kind != "range"),
        f"Between levels {runs[0].from_level:.2f} and {runs[-1].to_level:.2f} no values print the "
        f"aim in {len(runs)} runs of tones; the nearest possible depart from it "
        f"{_by(worst_Ch, worst_L)}.",
    ]


def _by(worst_Ch: float, worst_L: float) -> str:
    return f"by up to ΔCh {worst_Ch:.1f}" + (f" and {worst_L:.1f} in L*" if worst_L > _L else "")


@dataclass(frozen=True)
class Expectation:
    """Errors against the aim as asked, before and as predicted after; means over L*.

    Attributes
    ----------
    before_mean_delta_Ch, before_max_delta_Ch, before_mean_delta_L, before_max_delta_L
        Of the uncorrected ramp as the model has it.
    after_mean_delta_Ch, after_max_delta_Ch, after_mean_delta_L, after_max_delta_L
        Of the corrected ramp, to be expected with the uncertainty of the model counted in.
    unreachable_mean_delta_Ch
        The part of the latter mean that no device value can remove.
    """

    before_mean_delta_Ch: float
    before_max_delta_Ch: float
    before_mean_delta_L: float
    before_max_delta_L: float
    after_mean_delta_Ch: float
    after_max_delta_Ch: float
    after_mean_delta_L: float
    after_max_delta_L: float
    unreachable_mean_delta_Ch: float

    def in_steps(self, off_before: Array, off_after: Array, L: Array) -> Expectation:
        """The same, with how far L* is off its aim in steps that a driver makes of all tones.

        Parameters
        ----------
        off_before, off_after
            Shape (n,): |ΔL*| of tones as they are, and through the correction.
        L
            Shape (n,): L* aimed at.
        """
        return replace(
            self,
            before_mean_delta_L=mean_over_lightness(off_before, L),
            before_max_delta_L=float(off_before.max()),
            after_mean_delta_L=mean_over_lightness(off_after, L),
            after_max_delta_L=float(off_after.max()),
        )

    def on_another_sheet(self, sheets: int, supposed: bool = False) -> tuple[float, float, float]:
        """The mean ΔCh to be expected of a sheet that differs from those read as sheets usually do.

        With the least and the most of it in four sheets of five, of which what the model leaves
        open is part. What is expected otherwise is of a print like the sheets that the correction
        was made from.

        Parameters
        ----------
        sheets
            How many those are.
        supposed
            Whether answers beside the axis were supposed, not measured.

        Examples
        --------
        >>> made = Expectation(2.0, 4.0, 1.0, 2.0, 0.6, 1.5, 0.1, 0.3, 0.0)
        >>> [round(one, 2) for one in made.on_another_sheet(1)]
        [0.67, 0.54, 0.89]
        >>> [round(one, 2) for one in made.on_another_sheet(1, supposed=True)]
        [0.67, 0.44, 1.02]
        """
        lengths = TONE_OF_SHEET * SHEETS_CH * np.sqrt(1 + 1 / max(sheets, 1)) * _SHEET_LENGTHS
        mean, *by_sheets = np.hypot(self.after_mean_delta_Ch, lengths)
        # What no values remove is known, where answers were measured.
        known = 0.0 if supposed else min(self.unreachable_mean_delta_Ch, self.after_mean_delta_Ch)
        open_ = np.sqrt(self.after_mean_delta_Ch**2 - known**2)
        times = np.array(SUPPOSED_RANGE if supposed else _MODEL_RANGE)
        by_model = np.hypot(np.hypot(known, open_ * times), lengths[0])
        # Two causes, neither of which knows of the other, each as a factor.
        low, high = np.hypot(*np.log(np.array([by_sheets, by_model]) / mean))
        return float(mean), float(mean * np.exp(-low)), float(mean * np.exp(high))

    @property
    def before(self) -> float:
        """Length of the mean ΔCh and the mean ΔL* together, of the print as it is."""
        return float(np.hypot(self.before_mean_delta_Ch, self.before_mean_delta_L))

    @property
    def after(self) -> float:
        """The same, expected after."""
        return float(np.hypot(self.after_mean_delta_Ch, self.after_mean_delta_L))


# Mean, and 10th and 90th percentile, of a length whose two parts have a standard deviation with a
# median of one and known to `SHEETS_UNSURE`: from four million draws.
_SHEET_LENGTHS = np.array([1.50, 0.343, 3.09])

_MODEL_RANGE = 0.79, 1.21
"""Times the mean ΔCh expected that a mean over ten tones, which err independently by a model's
stated uncertainty, comes to in four of five: each is a length of two parts."""

SUPPOSED_RANGE = 0.55, 1.5
"""The same where answers beside the axis were supposed: true over expected, of ramps alone, on
simulated printers of many kinds, each kind counting alike; no source."""

# The mean of |x| is s · sqrt(2/π), and the mean of the largest of ten is 1.5 s.
_MEAN_SIZE, _LARGEST_SIZE = np.sqrt(2 / np.pi), 1.5


def expectation(
    before: Array,
    aim_before: Array,
    aimed: Array,
    solution: Solution,
    limits: Sequence[Limit],
) -> Expectation:
    """Compare the uncorrected ramp and the solved one with the aim.

    Parameters
    ----------
    before
        Shape (n, 3): the uncorrected ramp at the solution's levels.
    aim_before
        Shape (n, 2): a*, b* aimed at for its L*.
    aimed
        Shape (n, 3): the aim as asked.
    solution, limits
        What was solved, and where the aim was out of reach.
    """
    tones = slice(1, -1)
    off_before = np.hypot(*(before[:, 1:] - aim_before).T)[tones]
    off_L_before = np.abs(before[:, 0] - aimed[:, 0])[tones]
    off, off_L = delta_Ch(solution.lab, aimed)[tones], np.abs(solution.lab - aimed)[tones, 0]
    sd_Ch = np.sqrt(np.mean(solution.sd[tones, 1:] ** 2, axis=1))
    sd_L = solution.sd[tones, 0]
    L, L_before = aimed[tones, 0], before[tones, 0]
    out = np.zeros(len(aimed), dtype=bool)
    for limit in limits:
        out |= (solution.levels >= limit.from_level) & (solution.levels <= limit.to_level)
    return Expectation(
        before_mean_delta_Ch=mean_over_lightness(off_before, L_before),
        before_max_delta_Ch=float(off_before.max()),
        before_mean_delta_L=mean_over_lightness(off_L_before, L),
        before_max_delta_L=float(off_L_before.max()),
        after_mean_delta_Ch=mean_over_lightness(np.hypot(off, MEAN_LENGTH * sd_Ch), L),
        after_max_delta_Ch=float(np.hypot(off, LARGEST_LENGTH * sd_Ch).max()),
        after_mean_delta_L=mean_over_lightness(np.hypot(off_L, _MEAN_SIZE * sd_L), L),
        after_max_delta_L=float(np.hypot(off_L, _LARGEST_SIZE * sd_L).max()),
        unreachable_mean_delta_Ch=mean_over_lightness(np.where(out[tones], off, 0.0), L),
    )
