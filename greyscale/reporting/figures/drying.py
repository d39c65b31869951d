"""Figure: how a print's tones near their final state."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.drying import WITHIN, Drying
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.reporting.figures.labels import legend_above
from greyscale.reporting.numbers import time_words
from greyscale.reporting.style import AIM_LINE, Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_TONES = 4
_TICKS = (1 / 60, 5 / 60, 0.25, 0.5, 1, 2, 4, 8, 24, 48, 96, 168, 336, 720)


@in_look
def drying(result: Drying, look: Look) -> Figure:
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
        panel.set_title(f"{name} from the first reading")
    legend_above(changes[0], look, columns=2 if look.narrow else _TONES)
    _time_axis(figure.axes, look, result)
    changes[-1].set_xlabel(f"time {series.clock}")
    return figure


def _tones(result: Drying) -> Indices:
    """Choose tones from paper to black."""
    count = len(result.series.level)
    return np.unique(np.linspace(0, count - 1, min(_TONES, count)).round().astype(np.intp))


def _still_to_come(panel: Axes, look: Look, result: Drying) -> None:
    course = result.course
    low, middle, high = course.to_come.T
    panel.fill_between(course.hours, low, high, color=look.band, linewidth=0)
    panel.plot(course.hours, middle, color=look.ink, linewidth=1.5)
    panel.axhline(WITHIN, color=look.ink, linestyle=AIM_LINE, linewidth=1.1)
    top = 1.1 * float(np.percentile(high, 98))
    panel.set_ylim(0, max(top, 3 * WITHIN))
    title = "ΔE00 to the final state"
    panel.set_title(title if look.narrow else f"{title}, tone with most to go (band: 90 %)")
    for hours in result.series.hours:
        panel.plot([hours], [0], marker="|", color=look.ink, markersize=11, clip_on=False)
    if result.settled is not None and result.settled[2] > result.series.hours[0]:
        low_time, time, high_time = result.settled
        panel.plot([low_time, high_time], [WITHIN, WITHIN], color=look.ink, linewidth=4)
        panel.annotate(
            f"within {WITHIN:g} from {time_words(time)}", (time, WITHIN), (6, 10),
            textcoords="offset points", ha="left", va="bottom",
        )  # fmt: skip


def _change(
    panel: Axes, look: Look, result: Drying, tones: Indices, measured: Array, fitted: Array
) -> None:
    hours, course = result.series.hours, result.course
    panel.axhline(0, color=look.muted, linewidth=0.6)
    for order, tone in enumerate(tones):
        style = line(order).options(look)
        base = fitted[0, tone]
        panel.plot(course.hours, fitted[:, tone] - base, **(style | {"marker": ""}))
        panel.plot(hours, measured[:, tone] - base, **(style | {"linestyle": ""}))
        panel.plot([], [], label=f"level {result.series.level[tone]:.2f}", **style)


def _time_axis(axes: list[Axes], look: Look, result: Drying) -> None:
    """Spread early times: half the axis for what happens before a few of the shortest gaps."""
    hours = result.series.hours
    unit = float(np.diff(np.unique(hours)).min())
    first, end = float(hours[0]), float(result.course.hours[-1])

    def spread(time: Array) -> Array:
        return np.log1p(np.maximum(np.asarray(time) - first, -0.9 * unit) / unit)

    def back(place: Array) -> Array:
        return np.asarray(first + unit * np.expm1(place))

    ticks = [first, *(tick for tick in _TICKS if first < tick < end)]
    least = (0.16 if look.narrow else 0.085) * float(spread(np.array(end)))
    kept: list[float] = []
    for tick in ticks:
        if not kept or float(spread(np.array(tick)) - spread(np.array(kept[-1]))) >= least:
            kept.append(tick)
    for panel in axes:
        panel.set_xscale("function", functions=(spread, back))
        panel.set_xlim(first - 0.15 * unit, end)
        panel.set_xticks(kept, [time_words(tick) for tick in kept])
        panel.minorticks_off()
