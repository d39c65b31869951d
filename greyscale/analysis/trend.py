"""Has a printer changed: readings of one printer and paper over time, against control limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.control_chart import ControlChart
from greyscale.analysis.followed import (
    CHANGED,
    CHARACTERISTICS,
    NOTICED_DELTA_CH,
    NOTICED_DELTA_L,
    Followed,
    follow,
    least_gains,
)
from greyscale.analysis.neutrality import hue_name
from greyscale.base.errors import BadInput
from greyscale.base.rests_on import Support, supports
from greyscale.base.results import filled
from greyscale.colorimetry.arrays import Array, columns_at
from greyscale.colorimetry.cielab import chroma, delta_E_2000, mean_over_lightness
from greyscale.readings.reading import Reading, average_repeats


@dataclass(frozen=True, eq=False)
class Movement:
    """The change of the tones' differences from their aims, from earlier prints to a later one.

    Aims follow the print's own paper and black, so what a correction would meet is counted, not
    the tint of another sheet; paper and black are given apart.

    Attributes
    ----------
    level
        Shape (n,): the later print's tones, by falling level; paper and black left out.
    L
        Shape (n,): their L*.
    delta_L, delta_ab, delta_Ch
        Shapes (n,), (n, 2), (n,): later minus earlier.
    mean_delta_Ch, max_delta_Ch, max_at_level
        Mean over L*, and the largest.
    mean_delta_L, mean_size_delta_L
        Mean over L* of the change with its sign, and of its size.
    hue
        Which way a*, b* have moved on average, as a cast is called.
    without_noise_delta_Ch, without_noise_delta_L
        `mean_delta_Ch` and `mean_size_delta_L` with the part taken out that the noise of the
        measurements alone would show.
    paper, black
        Shape (3,): the change of L*, a*, b*.
    """

    level: Array
    L: Array
    delta_L: Array
    delta_ab: Array
    delta_Ch: Array
    mean_delta_Ch: float
    max_delta_Ch: float
    max_at_level: float
    mean_delta_L: float
    mean_size_delta_L: float
    hue: str
    without_noise_delta_Ch: float
    without_noise_delta_L: float
    paper: Array
    black: Array


def movement(earlier: Sequence[Analysis], later: Analysis) -> Movement:
    """Compare a print with the mean of earlier ones, tone by tone.

    Parameters
    ----------
    earlier
        At least one; read at the later one's levels, by straight lines between their own.
    later
        Against the same aims as the earlier.
    """
    patches = later.patches
    tones = patches.is_tone
    level, L = patches.level[tones], patches.lab[tones, 0]
    before = np.mean([_deltas_at(one, level) for one in earlier], axis=0)
    moved = np.column_stack([patches.delta_L, patches.delta_ab])[tones] - before
    delta_Ch = chroma(moved[:, 1:])
    worst = int(np.argmax(delta_Ch))
    mean_ab = [mean_over_lightness(moved[:, axis], L) for axis in (1, 2)]
    mean_Ch = mean_over_lightness(delta_Ch, L)
    mean_size_L = mean_over_lightness(np.abs(moved[:, 0]), L)
    noise_Ch, noise_L = _noise(earlier, later)
    return Movement(
        level=level,
        L=L,
        delta_L=moved[:, 0],
        delta_ab=moved[:, 1:],
        delta_Ch=delta_Ch,
        mean_delta_Ch=mean_Ch,
        max_delta_Ch=float(delta_Ch[worst]),
        max_at_level=float(level[worst]),
        mean_delta_L=mean_over_lightness(moved[:, 0], L),
        mean_size_delta_L=mean_size_L,
        hue=hue_name(float(np.degrees(np.arctan2(mean_ab[1], mean_ab[0]))) % 360),
        without_noise_delta_Ch=less_noise(mean_Ch, noise_Ch),
        without_noise_delta_L=less_noise(mean_size_L, noise_L),
        paper=later.paper - np.mean([one.paper for one in earlier], axis=0),
        black=later.black - np.mean([one.black for one in earlier], axis=0),
    )


def _deltas_at(analysis: Analysis, level: Array) -> Array:
    """Return ΔL*, Δa*, Δb* at some levels, shape (n, 3)."""
    patches = analysis.patches
    deltas = np.column_stack([patches.delta_L, patches.delta_ab])
    return columns_at(level, patches.level[::-1], deltas[::-1])


def _noise(earlier: Sequence[Analysis], later: Analysis) -> tuple[float, float]:
    """Return the mean ΔCh and mean |ΔL*| that the measurements' noise alone would show.

    A difference whose two parts have the standard deviation sd has the mean length
    sd · sqrt(π/2); the mean size of one number with that sd is sd · sqrt(2/π).
    """
    share = _share(later) + sum(map(_share, earlier)) / len(earlier) ** 2
    repeats = later.reading.repeatability
    return (
        float(repeats.sd_Ch * np.sqrt(share * np.pi / 2)),
        float(repeats.sd_L * np.sqrt(share * 2 / np.pi)),
    )


def _share(analysis: Analysis) -> float:
    """Return the variance of a tone's mean, in those of one measurement."""
    return float(np.mean(1 / analysis.patches.counts[analysis.patches.is_tone]))


def less_noise(value: float, noise: float) -> float:
    """Take noise out, which adds in quadrature."""
    return float(np.sqrt(max(value**2 - noise**2, 0.0)))


@dataclass(frozen=True, eq=False)
class DatedAnalysis:
    """The analysis of one reading, and when that was measured.

    Attributes
    ----------
    number
        What the reading is called where it is kept: its entry in the print log.
    moment
        When it was measured.
    analysis
        Against the same aims as all others of a trend.
    """

    number: int
    moment: datetime
    analysis: Analysis


@dataclass(frozen=True, eq=False)
class Trend(Followed):
    """Readings of one printer and paper over time, and what they say as `Followed` has it.

    Attributes
    ----------
    readings
        The n readings, the oldest first.
    moved
        How the latest print differs from those before the change, or from all others, those in
        `stands_out` left out; None for a single reading.
    worth_correcting
        Whether a new correction is worth it: the print has changed, by more than is noticed.
    """

    readings: tuple[DatedAnalysis, ...]
    moved: Movement | None
    worth_correcting: bool

    @property
    def rests_on(self) -> tuple[Support, ...]:
        """The standards, constants and data behind the figures."""
        own = tuple(support for one in self.readings[-1:] for support in one.analysis.rests_on)
        return (*own, *supports("control-chart", "noticed", "sheets"))

    @property
    def changed(self) -> bool:
        """Whether the verdict is "changed"."""
        return self.verdict == CHANGED

    @property
    def baseline(self) -> int:
        """How many readings the limits come from."""
        return next((chart.baseline for chart in self.charts.values()), len(self.readings))


def trend(readings: Sequence[DatedAnalysis], baseline: int | None = None) -> Trend:
    """Follow readings of one printer and paper, printed and measured alike.

    Parameters
    ----------
    readings
        At least one, in any order.
    baseline
        How many of the first readings the control limits come from; None takes all.

    Raises
    ------
    BadInput
        If there is no reading, or the baseline asks for more than there are, or fewer than two.
    """
    ordered = tuple(sorted(readings, key=lambda one: (one.moment, one.number)))
    if not ordered:
        raise BadInput("there is no reading to follow; add readings with 'greyscale log add'")
    if baseline is not None and not 2 <= baseline <= len(ordered):
        raise BadInput(
            f"the limits cannot come from the first {baseline} of {len(ordered)} readings; "
            f"give 2 to {len(ordered)}",
            "--baseline",
        )
    found = follow(
        {one.key: [one.value(each.analysis) for each in ordered] for one in CHARACTERISTICS},
        baseline,
    )
    moved = None
    if len(ordered) > 1:
        last = len(ordered) - 1
        kept = (i for i in range(len(ordered)) if i not in found.stands_out)
        before = [i for i in kept if i < (found.since or last)] or range(last)
        moved = movement([ordered[i].analysis for i in before], ordered[last].analysis)
    return filled(
        Trend,
        found,
        readings=ordered,
        moved=moved,
        worth_correcting=found.verdict == CHANGED
        and moved is not None
        and _is_worth_it(moved, ordered[-1].analysis, found.charts),
    )


def _is_worth_it(moved: Movement, latest: Analysis, charts: Mapping[str, ControlChart]) -> bool:
    """Whether a correction for what has moved would gain enough, beside what sheets vary by."""
    repeats = latest.reading.repeatability
    sheets = [charts[key].sigma for key in ("mean_delta_a", "mean_delta_b", "mean_delta_L")]
    mean_Ch, _, mean_L = least_gains(repeats.sd_Ch, repeats.sd_L, max(sheets[:2]), sheets[2])
    return moved.without_noise_delta_Ch >= mean_Ch or moved.without_noise_delta_L >= mean_L


def is_noticed(moved: Movement) -> bool:
    """Say whether a change is more than noise and as large as is noticed side by side."""
    return (
        moved.without_noise_delta_Ch >= NOTICED_DELTA_CH
        or moved.without_noise_delta_L >= NOTICED_DELTA_L
    )


MATCHES_WITHIN = 1.0
"""ΔE00 of the worst tone up to which prints side by side pass for the same; common practice, no
source."""

_SAME_LEVEL = 0.002


@dataclass(frozen=True, eq=False)
class Match:
    """Tones of a print against those of another.

    Attributes
    ----------
    level
        Shape (n,): the tones compared, rising.
    difference
        Shape (n, 3): L*, a*, b* of the print less those of the other.
    delta_E00
        Shape (n,).
    """

    level: Array
    difference: Array
    delta_E00: Array

    @property
    def worst(self) -> int:
        """Index of the tone that differs most."""
        return int(np.argmax(self.delta_E00))

    @property
    def matches(self) -> bool:
        """Whether no tone differs by more than `MATCHES_WITHIN`."""
        return float(self.delta_E00.max()) <= MATCHES_WITHIN


def grey_tones(reading: Reading) -> tuple[Array, Array]:
    """A reading's greys, repeats averaged: levels (n,), rising, and their L*, a*, b* (n, 3)."""
    averaged = average_repeats(reading).reading
    rows = averaged.axis_rows[::-1]
    return averaged.level[rows], averaged.lab[rows]


def match(level: Array, lab: Array, other_level: Array, other_lab: Array) -> Match:
    """Compare the tones that two prints have in common.

    Parameters
    ----------
    level, lab, other_level, other_lab
        As `grey_tones` returns them.

    Raises
    ------
    BadInput
        If they have no tone in common.
    """
    nearest = np.abs(level[:, np.newaxis] - other_level).argmin(axis=1)
    common = np.abs(other_level[nearest] - level) <= _SAME_LEVEL
    if not common.any():
        raise BadInput(
            "the strips have no tone in common; make the strip of every copy with the same "
            "correction and picture"
        )
    own, other = lab[common], other_lab[nearest[common]]
    return Match(level[common], own - other, delta_E_2000(own, other))
