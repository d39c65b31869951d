"""Has a printer changed: readings of one printer and paper over time, against control limits."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.casts import hue_name
from greyscale.analysis.control_chart import RANGE, ControlChart, change_point, control_chart
from greyscale.analysis.neutrality import mean_over_lightness
from greyscale.base.errors import BadInput
from greyscale.base.rests_on import Support, supports
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import chroma


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
        Which way a*, b* have moved in the mean, as a cast is called.
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
    """Give ΔL*, Δa*, Δb* at some levels, shape (n, 3)."""
    patches = analysis.patches
    rising = slice(None, None, -1)
    deltas = np.column_stack([patches.delta_L, patches.delta_ab])
    return np.column_stack(
        [np.interp(level, patches.level[rising], deltas[rising, axis]) for axis in range(3)]
    )


def _noise(earlier: Sequence[Analysis], later: Analysis) -> tuple[float, float]:
    """Give the mean ΔCh and mean |ΔL*| that the measurements' noise alone would show.

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
    """Give the variance of a tone's mean, in those of one measurement."""
    return float(np.mean(1 / analysis.patches.counts[analysis.patches.is_tone]))


def less_noise(value: float, noise: float) -> float:
    """Take noise out, which adds in quadrature."""
    return float(np.sqrt(max(value**2 - noise**2, 0.0)))


LEAST_READINGS = 5
"""With fewer, nothing is said of a change: limits from three differences are chance themselves."""

FIRM_READINGS = 20
"""From about so many readings the limits are firm (ISO 7870-2 asks for 20 to 25; memory)."""

NOTICED_DELTA_CH = 0.5
"""A mean ΔCh that is noticed side by side; common practice, no source."""

NOTICED_DELTA_L = 1.0
"""The same for L*: as far as a tone must be from black to be told from it."""

TOO_FEW, STEADY, ONCE, CHANGED = "too few", "steady", "once", "changed"


@dataclass(frozen=True)
class Characteristic:
    """A number of a print that is followed over time.

    Attributes
    ----------
    key
        As in JSON.
    name
        As it is printed.
    group
        "neutrality", "tone", "paper" or "black".
    value
        The number of an analysis.
    least
        The least that it can be.
    """

    key: str
    name: str
    group: str
    value: Callable[[Analysis], float]
    least: float = -np.inf


def _mean_of_tones(analysis: Analysis, values: Array) -> float:
    tones = analysis.patches.is_tone
    return mean_over_lightness(values[tones], analysis.patches.lab[tones, 0])


CHARACTERISTICS = (
    Characteristic(
        "mean_delta_Ch", "mean ΔCh", "neutrality", lambda one: one.neutrality.mean_delta_Ch, 0.0
    ),
    Characteristic(
        "max_delta_Ch", "largest ΔCh", "neutrality", lambda one: one.neutrality.max_delta_Ch, 0.0
    ),
    Characteristic(
        "mean_delta_a",
        "mean Δa*",
        "neutrality",
        lambda one: _mean_of_tones(one, one.patches.delta_ab[:, 0]),
    ),
    Characteristic(
        "mean_delta_b",
        "mean Δb*",
        "neutrality",
        lambda one: _mean_of_tones(one, one.patches.delta_ab[:, 1]),
    ),
    Characteristic(
        "mean_delta_L", "mean ΔL*", "tone", lambda one: _mean_of_tones(one, one.patches.delta_L)
    ),
    Characteristic("rms_delta_L", "RMS ΔL*", "tone", lambda one: one.tone.rms_delta_L, 0.0),
    Characteristic("paper_L", "paper L*", "paper", lambda one: float(one.paper[0])),
    Characteristic("paper_a", "paper a*", "paper", lambda one: float(one.paper[1])),
    Characteristic("paper_b", "paper b*", "paper", lambda one: float(one.paper[2])),
    Characteristic("black_L", "black L*", "black", lambda one: float(one.black[0])),
)
"""What is followed. Signed means tell which way a cast moves, which ΔCh alone does not."""


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
class Trend:
    """Readings of one printer and paper over time.

    Attributes
    ----------
    readings
        The n readings, the oldest first.
    charts
        Control chart of each of `CHARACTERISTICS`; empty for a single reading.
    verdict
        "too few" (readings to tell), "steady", "once" (some reading stands out, the latest does
        not) or "changed" (the latest does, or is the last of a run).
    signalled
        Keys of the characteristics that say so.
    since
        Index of the first reading after the change; None where there is none.
    stands_out
        Indices of earlier readings that lie beyond a limit and were come back from; after a
        change, of those alone that lie beyond by themselves. `moved` does not come from them.
    moved
        How the latest print differs from those before the change, or from all others; None for a
        single reading.
    worth_correcting
        Whether a new correction is worth it: the print has changed, by more than is noticed.
    """

    readings: tuple[DatedAnalysis, ...]
    charts: dict[str, ControlChart]
    verdict: str
    signalled: tuple[str, ...]
    since: int | None
    stands_out: tuple[int, ...]
    moved: Movement | None
    worth_correcting: bool

    @property
    def rests_on(self) -> tuple[Support, ...]:
        """The standards, constants and data behind the figures."""
        own = tuple(support for one in self.readings[-1:] for support in one.analysis.rests_on)
        return (*own, *supports("control-chart", "noticed"))

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
    _refuse_baseline(len(ordered), baseline)
    charts = (
        {one.key: _chart(one, ordered, baseline) for one in CHARACTERISTICS}
        if len(ordered) > 1
        else {}
    )
    enough = len(ordered) >= LEAST_READINGS
    signalled = tuple(key for key, chart in charts.items() if enough and _is_active(chart))
    stands_out = _stand_out(charts.values(), bool(signalled)) if enough else ()
    kept = [i for i in range(len(ordered)) if i not in stands_out]
    since = _since([charts[key] for key in signalled], kept) if signalled else None
    if not enough:
        verdict = TOO_FEW
    elif signalled:
        verdict = CHANGED
    else:
        verdict = ONCE if stands_out else STEADY
    moved = None
    if len(ordered) > 1:
        last = len(ordered) - 1
        before = [i for i in kept if i < (since or last)] or range(last)
        moved = movement([ordered[i].analysis for i in before], ordered[last].analysis)
    return Trend(
        readings=ordered,
        charts=charts,
        verdict=verdict,
        signalled=signalled,
        since=since,
        stands_out=stands_out,
        moved=moved,
        worth_correcting=verdict == CHANGED and moved is not None and is_noticed(moved),
    )


def _refuse_baseline(count: int, baseline: int | None) -> None:
    if not count:
        raise BadInput("there is no reading to follow; add readings with 'greyscale log add'")
    if baseline is not None and not 2 <= baseline <= count:
        raise BadInput(
            f"the limits cannot come from the first {baseline} of {count} readings; "
            f"give 2 to {count}",
            "--baseline",
        )


def _chart(
    followed: Characteristic, readings: Sequence[DatedAnalysis], baseline: int | None
) -> ControlChart:
    """Make a control chart; the limits do not come from a reading that alone stands out.

    ISO 7870-2 leaves out values whose cause is found: where print and measurement jump away and
    back, it is in that reading or that sheet.
    """
    values = [followed.value(one.analysis) for one in readings]
    first = control_chart(values, baseline, followed.least)
    if len(values) < LEAST_READINGS or not first.alone:
        return first
    return control_chart(values, baseline, followed.least, first.alone)


def _is_active(chart: ControlChart) -> bool:
    """Say whether the latest value is part of what chance hardly explains.

    A large moving range alone does not: a value that comes back to where it was makes one, too.
    """
    return any(signal.rule != RANGE for signal in chart.active)


def _since(charts: Sequence[ControlChart], kept: Sequence[int]) -> int:
    """Give the first reading after the change, by the chart that shows it best.

    Parameters
    ----------
    kept
        Indices of the readings that do not stand out for themselves.
    """

    def step(chart: ControlChart) -> tuple[float, int]:
        values = chart.values[list(kept)]
        point = change_point(values)
        size = abs(float(values[point:].mean() - values[:point].mean()))
        return size / max(chart.mean_range, 1e-9), kept[point]

    return max(map(step, charts))[1]


def _stand_out(charts: Iterable[ControlChart], changed: bool) -> tuple[int, ...]:
    # After a change, what was before it may lie beyond limits that come from both.
    found = (chart.alone if changed else chart.come_back_from for chart in charts)
    return tuple(sorted({index for indices in found for index in indices}))


def is_noticed(moved: Movement) -> bool:
    """Say whether a change is more than noise and as large as is noticed side by side."""
    return (
        moved.without_noise_delta_Ch >= NOTICED_DELTA_CH
        or moved.without_noise_delta_L >= NOTICED_DELTA_L
    )
