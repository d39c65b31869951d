"""Numbers of a print that are followed over time: whether they have changed."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    # Who asks for what is known already waits for no arrays to be imported.
    from greyscale.analysis.analyse import Analysis
    from greyscale.analysis.control_chart import ControlChart
    from greyscale.colorimetry.arrays import Array

LEAST_READINGS = 5
"""With fewer, nothing is said of a change: limits from three differences are chance themselves."""

FIRM_READINGS = 20
"""From about so many readings the limits are firm (ISO 7870-2 asks for 20 to 25; memory)."""

NOTICED_DELTA_CH = 0.5
"""A mean ΔCh that is noticed side by side; common practice, no source."""

NOTICED_DELTA_L = 1.0
"""The same for L*: as far as a tone must be from black to be told from it."""

NOTICED_LARGEST = 1.0
"""A largest ΔCh that is noticed side by side: from there on a tone is seen to have a hue."""

SHEETS_CH, SHEETS_L = 0.12, 0.15
"""What the mean Δa*, Δb* and ΔL* of sheets of one print vary by, before there are readings that
tell it: standard deviations; common practice, no source."""

TONE_OF_SHEET = 1.15
"""Times as much as the mean over the tones, in which some of it cancels, a single tone of a sheet
varies: 1.1 to 1.25 on the simulated printers."""

SHEETS_UNSURE = 0.6
"""How surely it is known beforehand what a printer's sheets vary by: standard deviation of its
logarithm, about a factor of two; common practice, no source."""


def sheets_apart(read: int) -> tuple[float, float]:
    """Return what a tone of another sheet differs by from the mean of those that were read.

    Standard deviations of ΔL*, and of Δa* or Δb*; what is not known of the printer is counted in.

    Examples
    --------
    >>> [round(sd, 2) for sd in sheets_apart(1)], [round(sd, 2) for sd in sheets_apart(4)]
    ([0.35, 0.28], [0.28, 0.22])
    """
    times = TONE_OF_SHEET * math.exp(SHEETS_UNSURE**2) * math.sqrt(1 + 1 / read)
    return SHEETS_L * times, SHEETS_CH * times


_LARGEST = 3.0  # The largest of many noisy values is large by noise alone: by three deviations.
_TWO_SHEETS = 2.0  # Standard deviations from which a difference is more than that of sheets.


def least_gains(
    sd_Ch: float, sd_L: float, sheets_Ch: float = SHEETS_CH, sheets_L: float = SHEETS_L
) -> tuple[float, float, float]:
    """Return from which gain on another round, or a new correction, is worth its paper.

    A gain must be larger than the reading's noise, than sheets vary by, and than what is noticed.

    Parameters
    ----------
    sd_Ch, sd_L
        Repeatability of the reading.
    sheets_Ch, sheets_L
        What the means vary by from sheet to sheet, where it was learnt.

    Returns
    -------
    Of the mean ΔCh, the largest ΔCh and the mean ΔL*.

    Examples
    --------
    >>> least_gains(0.15, 0.15)
    (0.5, 1.0, 1.0)
    >>> [round(gain, 2) for gain in least_gains(0.6, 0.3, 0.4)]
    [0.8, 2.16, 1.0]
    """
    return (
        max(NOTICED_DELTA_CH, sd_Ch, _TWO_SHEETS * sheets_Ch),
        max(NOTICED_LARGEST, _LARGEST * math.hypot(sd_Ch, sheets_Ch)),
        max(NOTICED_DELTA_L, sd_L, _TWO_SHEETS * sheets_L),
    )


VERDICTS = TOO_FEW, STEADY, ONCE, CHANGED = "too few", "steady", "once", "changed"


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
    usual
        What it is believed to vary by from sheet to sheet before there are readings, a standard
        deviation; None where it is not watched itself, but what it is made of. Common practice, no
        source.
    """

    key: str
    name: str
    group: str
    value: Callable[[Analysis], float]
    least: float = -math.inf
    usual: float | None = None


def _mean_of_tones(analysis: Analysis, values: Array) -> float:
    # Who follows numbers that were kept needs nothing of what they were computed by.
    from greyscale.colorimetry.cielab import mean_over_lightness

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
        usual=SHEETS_CH,
    ),
    Characteristic(
        "mean_delta_b",
        "mean Δb*",
        "neutrality",
        lambda one: _mean_of_tones(one, one.patches.delta_ab[:, 1]),
        usual=SHEETS_CH,
    ),
    Characteristic(
        "mean_delta_L",
        "mean ΔL*",
        "tone",
        lambda one: _mean_of_tones(one, one.patches.delta_L),
        usual=SHEETS_L,
    ),
    Characteristic("rms_delta_L", "RMS ΔL*", "tone", lambda one: one.tone.rms_delta_L, 0.0),
    Characteristic("paper_L", "paper L*", "paper", lambda one: float(one.paper[0]), usual=0.15),
    Characteristic("paper_a", "paper a*", "paper", lambda one: float(one.paper[1]), usual=0.1),
    Characteristic("paper_b", "paper b*", "paper", lambda one: float(one.paper[2]), usual=0.15),
    Characteristic("black_L", "black L*", "black", lambda one: float(one.black[0]), usual=0.25),
)
"""What is followed. Signed means tell which way a cast moves, which ΔCh alone does not."""


WATCHED = tuple(one for one in CHARACTERISTICS if one.usual is not None)
"""What the verdict comes from, all at once; the rest follows from these."""

_SHOWS = 3.0  # Standard deviations from which a number shows a change that all show together.


@dataclass(frozen=True, eq=False)
class Followed:
    """What `CHARACTERISTICS` say together.

    Attributes
    ----------
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
        change, of those alone that lie beyond by themselves.
    """

    charts: dict[str, ControlChart]
    verdict: str
    signalled: tuple[str, ...]
    since: int | None
    stands_out: tuple[int, ...]


def follow(values: Mapping[str, Sequence[float]], baseline: int | None = None) -> Followed:
    """Judge whether numbers that are followed over time have changed.

    Parameters
    ----------
    values
        By the keys of `CHARACTERISTICS`: n numbers each, at least one, the oldest first.
    baseline
        How many of the first the control limits come from; None takes all.
    """
    count = len(next(iter(values.values())))
    if count < 2:
        return Followed({}, TOO_FEW, (), None, ())
    if count < LEAST_READINGS:
        return Followed(_charts(values, baseline, (), None), TOO_FEW, (), None, ())
    import numpy as np

    from greyscale.analysis.control_chart import creeping, watch

    table = np.column_stack([values[one.key] for one in WATCHED])
    usual = np.array([one.usual for one in WATCHED], dtype=np.float64)
    alarm = watch(table, usual, LEAST_READINGS - 1, baseline)
    since = creeping(table, usual, alarm.came_back) if alarm.since is None else alarm.since
    charts = _charts(values, baseline, alarm.came_back, since)
    if since is None:
        return Followed(charts, ONCE if alarm.came_back else STEADY, (), None, alarm.came_back)
    return Followed(charts, CHANGED, _showing(charts, since), since, alarm.came_back)


def _charts(
    values: Mapping[str, Sequence[float]],
    baseline: int | None,
    left_out: Sequence[int],
    since: int | None,
) -> dict[str, ControlChart]:
    """A control chart of each number, its limits from readings before any change.

    ISO 7870-2 leaves out values whose cause is found: where print and measurement jump away and
    back, it is in that reading or that sheet.
    """
    from greyscale.analysis.control_chart import control_chart

    count = len(next(iter(values.values())))
    before = count if since is None else since
    taken = baseline or max(before, 2)
    left = [index for index in left_out if index < taken]
    return {
        one.key: control_chart(values[one.key], taken, one.least, left) for one in CHARACTERISTICS
    }


def _showing(charts: Mapping[str, ControlChart], since: int) -> tuple[str, ...]:
    """Keys of the numbers that show a change: the one that does most at least."""

    def away(chart: ControlChart) -> float:
        after = chart.values[since:]
        return abs(float(after.mean()) - chart.centre) / max(chart.sigma, 1e-9)

    found = {key: away(chart) for key, chart in charts.items()}
    most = max(found, key=lambda key: found[key])
    return tuple(key for key in found if found[key] >= _SHOWS or key == most)
