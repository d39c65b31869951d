"""Figures of prints over time: control charts, moved tones, all prints at a glance, drying."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.control_chart import BEYOND, RANGE, ControlChart
from greyscale.analysis.drying import WITHIN, Drying
from greyscale.base.plain_text import time_words
from greyscale.colorimetry.arrays import Array, Indices, Mask
from greyscale.reporting.figures.labels import HEIGHT, around_zero, legend_above, tone_bar
from greyscale.reporting.style import AIM_LINE, Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from greyscale.analysis.trend import Movement


# Figure: numbers of a print over time, each with its moving range and control limits.

_LEAST_SPAN = 0.5
_RINGED = 2.4


@dataclass(frozen=True, eq=False)
class ControlCharts:
    """What the figure shows.

    Attributes
    ----------
    charts
        Name of each number, and its chart; all of the same n readings.
    days
        Shape (n,): when each was measured, as it is to be printed below the axis.
    since
        Index of the first reading after a change, or None.
    notes
        Where a note belongs: between which readings (2.5: after the third), and its mark.
    """

    charts: Sequence[tuple[str, ControlChart]]
    days: Sequence[str]
    since: int | None = None
    notes: Sequence[tuple[float, str]] = ()


@in_look
def control_charts(shown: ControlCharts, look: Look) -> Figure:
    """Draw each number above its moving range; what is beyond a limit bears a ring."""
    heights = (1.55, 0.85) if look.narrow else (1.6, 0.8)
    figure, drawn = panels(look, heights * len(shown.charts))
    for i, (name, chart) in enumerate(shown.charts):
        values, ranges = drawn[2 * i], drawn[2 * i + 1]
        _values(values, look, name, chart)
        _ranges(ranges, look, chart)
        for panel in (values, ranges):
            if shown.since is not None:
                panel.axvline(shown.since - 0.5, color=look.ink, linewidth=1.0, linestyle=":")
        for place, mark in shown.notes:
            values.axvline(place, ymin=0.8, color=look.muted, linewidth=1.0)
            values.annotate(
                mark, (place, 1), (2, -1), xycoords=("data", "axes fraction"),
                textcoords="offset points", va="top", color=look.muted,
            )  # fmt: skip
    _days(drawn[-1], look, shown.days)
    return figure


def _values(panel: Axes, look: Look, name: str, chart: ControlChart) -> None:
    x = np.arange(len(chart.values))
    panel.axhspan(chart.lower, chart.upper, color=look.band, linewidth=0)
    for limit in (chart.lower, chart.upper):
        panel.axhline(limit, color=look.muted, linewidth=0.8)
    panel.axhline(chart.centre, color=look.muted, linewidth=1.2)
    panel.plot(x, chart.values, **line(0).options(look))
    _ring(panel, look, chart.values, _within(chart, BEYOND))
    low = min(float(chart.values.min()), chart.lower)
    high = max(float(chart.values.max()), chart.upper)
    spare = max(0.08 * (high - low), (_LEAST_SPAN - (high - low)) / 2)
    panel.set_ylim(low - spare, high + spare)
    panel.set_title(name)


def _ranges(panel: Axes, look: Look, chart: ControlChart) -> None:
    x = np.arange(len(chart.values))
    panel.axhspan(0, chart.upper_range, color=look.band, linewidth=0)
    panel.axhline(chart.upper_range, color=look.muted, linewidth=0.8)
    panel.axhline(chart.mean_range, color=look.muted, linewidth=1.2)
    panel.plot(x, chart.moving_range, **line(0).options(look) | {"linewidth": 1.0, "marker": "."})
    jumps = _within(chart, RANGE) & (chart.moving_range > chart.upper_range)
    _ring(panel, look, chart.moving_range, jumps)
    highest = max(float(np.nanmax(chart.moving_range)), chart.upper_range, 0.1)
    panel.set_ylim(0, 1.15 * highest)
    panel.set_ylabel("range", fontsize=look.font_size - 0.5)
    panel.locator_params(axis="y", nbins=2)


def _within(chart: ControlChart, rule: str) -> Mask:
    mask = np.zeros(len(chart.values), dtype=np.bool_)
    for signal in chart.signals:
        if signal.rule == rule:
            mask[signal.first : signal.last + 1] = True
    return mask


def _ring(panel: Axes, look: Look, values: Array, ringed: Mask) -> None:
    style = line(0).options(look)
    panel.plot(
        np.flatnonzero(ringed), values[ringed], linestyle="", marker="o", markerfacecolor="none",
        markeredgecolor=look.accents[1], markeredgewidth=1.6,
        markersize=_RINGED * style["markersize"], zorder=4,
    )  # fmt: skip


def _days(panel: Axes, look: Look, days: Sequence[str]) -> None:
    """Name a few readings by their day, the first and the last always."""
    count = len(days)
    shown = min(count, 2 if look.narrow else 5)
    ticks = np.unique(np.linspace(0, count - 1, shown).round().astype(int))
    panel.set_xticks(ticks, [days[i] for i in ticks])
    panel.set_xlim(-0.6, count - 0.4)


# Figure: which tones have moved from where earlier prints had them, and which way.

_LEAST_REACH = 1.0


@in_look
def movement_by_tone(moved: Movement, look: Look) -> Figure:
    """Draw the change of a*, b* and of L* over level."""
    heights = (2.2, 1.7, HEIGHT) if look.narrow else (2.3, 1.7, HEIGHT)
    figure, (colour, tone, bar) = panels(look, heights)
    series = (("a*: up reddish, down greenish", 0), ("b*: up yellowish, down bluish", 1))
    for index, (name, axis) in enumerate(series):
        colour.plot(moved.level, moved.delta_ab[:, axis], **line(index).options(look), label=name)
    colour.set_title("Δa*, Δb*: change from before")
    legend_above(colour, look, columns=1 if look.narrow else 2)
    tone.plot(moved.level, moved.delta_L, **line(2).options(look))
    tone.set_title("ΔL*: above 0 lighter than before, below darker")
    around_zero(colour, look, moved.delta_ab, _LEAST_REACH, 1.1)
    around_zero(tone, look, moved.delta_L, _LEAST_REACH, 1.1)
    grey = np.column_stack([moved.L, np.zeros((len(moved.L), 2))])
    tone_bar(bar, moved.level, grey, marked=False)
    return figure


Course = tuple[tuple[datetime, float], ...]


@in_look
def overview(shown: tuple[Sequence[tuple[str, Course]], float], look: Look) -> Figure:
    """Draw each print over the same days and to the same scale; a grey band up to the limit.

    Shown are names with courses (when it was measured, and the mean ΔCh), and the mean ΔCh that
    the grade allows.
    """
    from matplotlib.dates import date2num, num2date

    rows, limit = shown
    figure, drawn = panels(look, (0.95 if look.narrow else 0.85,) * len(rows))
    days = [[float(date2num(moment)) for moment, _ in course] for _, course in rows]
    highest = max(limit, *(value for _, course in rows for _, value in course))
    first, last = min(map(min, days)), max(map(max, days))
    spare = max((last - first) / 50, 0.5)
    for panel, (name, course), own in zip(drawn, rows, days, strict=True):
        panel.axhspan(0.0, limit, color=look.band, linewidth=0)
        panel.plot(own, [value for _, value in course], **line(0).options(look) | {"marker": "."})
        panel.set_title(name)
        panel.set_ylim(0.0, 1.15 * highest)
        panel.locator_params(axis="y", nbins=2)
    # Whole days apart, so that none is named twice.
    step = max(np.ceil((last - first) / (2 if look.narrow else 4)), 1)
    ticks = np.arange(first, last + spare, step)
    drawn[-1].set_xticks(ticks, [f"{num2date(tick):%Y-%m-%d}" for tick in ticks])
    drawn[-1].set_xlim(first - spare, last + spare)
    return figure


# Figure: how a print's tones near their final state.

_TONES = 4
_TICKS = (1 / 60, 5 / 60, 0.25, 0.5, 1, 2, 4, 8, 24, 48, 96, 168, 336, 720)


@in_look
def drying(result: Drying, look: Look) -> Figure:
    """Draw what is still to come over time, and below it the change of L*, a*, b* and density."""
    # Low enough to share the first page of a PDF with the lead.
    heights = (2.3, 1.6, 1.6, 1.6, 1.8) if look.narrow else (2.0, 1.25, 1.25, 1.25, 1.45)
    figure, (rest, *changes) = panels(look, heights)
    _still_to_come(rest, look, result)
    series, course = result.series, result.course
    # From paper to black.
    last = len(series.level) - 1
    tones = np.unique(np.linspace(0, last, min(_TONES, last + 1)).round().astype(np.intp))
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


def _still_to_come(panel: Axes, look: Look, result: Drying) -> None:
    course = result.course
    low, middle, high = course.to_come.T
    if result.not_before is None:
        top = 1.1 * float(np.percentile(high, 98))
    else:
        # Nothing is known but the least: it is drawn, and the band goes on above it.
        middle, top = low, 1.5 * float(low.max())
    top = max(top, 3 * WITHIN)
    panel.fill_between(course.hours, low, np.minimum(high, top), color=look.band, linewidth=0)
    panel.plot(course.hours, middle, color=look.ink, linewidth=1.5)
    panel.axhline(WITHIN, color=look.ink, linestyle=AIM_LINE, linewidth=1.1)
    panel.set_ylim(0, top)
    title = "ΔE00 to the final state"
    band = "90 %" if result.not_before is None else "no upper end"
    panel.set_title(title if look.narrow else f"{title}, tone with most to go (band: {band})")
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
