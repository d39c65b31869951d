"""Figure: how a print's tones near their final state."""

from __future__ import annotations

import numpy as np

from greyscale.analysis.drying import WITHIN, Drying
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.reporting.drying_words import time_words
from greyscale.reporting.figures.plot import Figure, Panel, panels
from greyscale.reporting.style import AIM_LINE, LIGHT, Look, line

_TONES = 4
_TICKS = (1 / 60, 5 / 60, 0.25, 0.5, 1, 2, 4, 8, 24, 48, 96, 168, 336, 720)


def drying(result: Drying, look: Look = LIGHT) -> Figure:
    """Draw what is still to come over time, and below it the change of L*, a*, b* and density."""
    # Low enough to share the first page of a PDF with the lead.
    heights = (2.3, 1.6, 1.6, 1.6, 1.8) if look.narrow else (2.0, 1.25, 1.25, 1.25, 1.45)
    figure, (rest, *changes) = panels(look, heights)
    _still_to_come(rest, look, result)
    tones = _tones(result)
    series, course = result.series, result.course
    quantities = [
        ("ΔL*", series.lab[:, :, 0], course.lab[:, :, 0]),
        ("Δa*", series.lab[:, :, 1], course.lab[:, :, 1]),
        ("Δb*", series.lab[:, :, 2], course.lab[:, :, 2]),
        ("Δdensity", series.density, course.density),
    ]
    for panel, (name, measured, fitted) in zip(changes, quantities, strict=True):
        _change(panel, look, result, tones, measured, fitted)
        panel.title = f"{name} from the first reading"
    changes[0].legend_above(columns=2 if look.narrow else _TONES)
    _time_axis(rest, look, result)
    changes[-1].x_label = f"time {series.clock}"
    return figure


def _tones(result: Drying) -> Indices:
    """Choose tones from paper to black."""
    count = len(result.series.level)
    return np.unique(np.linspace(0, count - 1, min(_TONES, count)).round().astype(np.intp))


def _still_to_come(panel: Panel, look: Look, result: Drying) -> None:
    course = result.course
    low, middle, high = course.to_come.T
    panel.band(course.hours, low, high, look.band)
    panel.plot(course.hours, middle, color=look.ink, width=1.5)
    panel.level_line(WITHIN, look.ink, 1.1, AIM_LINE)
    top = 1.1 * float(np.percentile(high, 98))
    panel.set_limits(y=(0, max(top, 3 * WITHIN)))
    title = "ΔE00 to the final state"
    panel.title = title if look.narrow else f"{title}, tone with most to go (band: 90 %)"
    for hours in result.series.hours:
        panel.plot([hours], [0], color=look.ink, marker="|", size=11, clip=False)
    if result.settled is not None and result.settled[2] > result.series.hours[0]:
        low_time, time, high_time = result.settled
        panel.plot([low_time, high_time], [WITHIN, WITHIN], color=look.ink, width=4)
        words = f"within {WITHIN:g} from {time_words(time)}"
        panel.text(time, WITHIN, words, offset=(6, 10), down="bottom")


def _change(
    panel: Panel, look: Look, result: Drying, tones: Indices, measured: Array, fitted: Array
) -> None:
    hours, course = result.series.hours, result.course
    panel.level_line(0.0, look.muted, 0.6)
    for order, tone in enumerate(tones):
        style = line(order).options(look)
        base = fitted[0, tone]
        panel.plot(course.hours, fitted[:, tone] - base, **(style | {"marker": ""}))
        panel.plot(hours, measured[:, tone] - base, **(style | {"width": 0}))
        panel.plot([], [], label=f"level {result.series.level[tone]:.2f}", **style)


def _time_axis(panel: Panel, look: Look, result: Drying) -> None:
    """Spread early times: half the axis for what happens before a few of the shortest gaps."""
    hours = result.series.hours
    unit = float(np.diff(np.unique(hours)).min())
    first, end = float(hours[0]), float(result.course.hours[-1])

    def spread(time: Array) -> Array:
        return np.log1p(np.maximum(np.asarray(time) - first, -0.9 * unit) / unit)

    ticks = [first, *(tick for tick in _TICKS if first < tick < end)]
    least = (0.16 if look.narrow else 0.085) * float(spread(np.array(end)))
    kept: list[float] = []
    for tick in ticks:
        if not kept or float(spread(np.array(tick)) - spread(np.array(kept[-1]))) >= least:
            kept.append(tick)
    panel.x.spread = spread
    panel.set_limits(x=(first - 0.15 * unit, end))
    panel.set_ticks(panel.x, kept, [time_words(tick) for tick in kept])
