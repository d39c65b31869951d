"""Numbers of a print that are followed over time: whether they have changed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
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
    least: float = -math.inf


def _mean_of_tones(analysis: Analysis, values: Array) -> float:
    # Who follows numbers that were kept needs nothing of what they were computed by.
    from greyscale.analysis.neutrality import mean_over_lightness

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
class Followed:
    """What the control charts of `CHARACTERISTICS` say together, as in
    `greyscale.analysis.trend.Trend`."""

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
    least = {one.key: one.least for one in CHARACTERISTICS}
    charts = {}
    if count > 1:
        charts = {key: _chart(series, least[key], baseline) for key, series in values.items()}
    enough = count >= LEAST_READINGS
    signalled = tuple(key for key, chart in charts.items() if enough and _is_active(chart))
    stands_out = _stand_out(charts.values(), bool(signalled)) if enough else ()
    kept = [i for i in range(count) if i not in stands_out]
    since = _since([charts[key] for key in signalled], kept) if signalled else None
    if not enough:
        verdict = TOO_FEW
    elif signalled:
        verdict = CHANGED
    else:
        verdict = ONCE if stands_out else STEADY
    return Followed(charts, verdict, signalled, since, stands_out)


def _chart(values: Sequence[float], least: float, baseline: int | None) -> ControlChart:
    """Make a control chart; the limits do not come from a reading that alone stands out.

    ISO 7870-2 leaves out values whose cause is found: where print and measurement jump away and
    back, it is in that reading or that sheet.
    """
    from greyscale.analysis.control_chart import control_chart

    first = control_chart(values, baseline, least)
    if len(values) < LEAST_READINGS or not first.alone:
        return first
    return control_chart(values, baseline, least, first.alone)


def _is_active(chart: ControlChart) -> bool:
    """Say whether the latest value is part of what chance hardly explains.

    A large moving range alone does not: a value that comes back to where it was makes one, too.
    """
    from greyscale.analysis.control_chart import RANGE

    return any(signal.rule != RANGE for signal in chart.active)


def _since(charts: Sequence[ControlChart], kept: Sequence[int]) -> int:
    """Give the first reading after the change, by the chart that shows it best.

    Parameters
    ----------
    kept
        Indices of the readings that do not stand out for themselves.
    """

    from greyscale.analysis.control_chart import change_point

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
