"""Figures of prints over time: control charts, tones that moved, an overview of all prints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from greyscale.analysis.control_chart import BEYOND, RANGE, ControlChart
from greyscale.analysis.trend import Movement
from greyscale.colorimetry.arrays import Array, Mask
from greyscale.reporting.figures.labels import HEIGHT, tone_bar
from greyscale.reporting.figures.plot import Figure, Panel, panels
from greyscale.reporting.style import LIGHT, Look, line

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


def control_charts(shown: ControlCharts, look: Look = LIGHT) -> Figure:
    """Draw each number above its moving range; what is beyond a limit bears a ring."""
    heights = (1.55, 0.85) if look.narrow else (1.6, 0.8)
    figure, drawn = panels(look, heights * len(shown.charts))
    for i, (name, chart) in enumerate(shown.charts):
        values, ranges = drawn[2 * i], drawn[2 * i + 1]
        _values(values, look, name, chart)
        _ranges(ranges, look, chart)
        for panel in (values, ranges):
            if shown.since is not None:
                panel.upright_line(shown.since - 0.5, look.ink, 1.0, (1, 1.65))
        for place, mark in shown.notes:
            values.upright_line(place, look.muted, 1.0, foot=0.8)
            values.text(place, 1, mark, offset=(2, -1), shares="y", down="top", colour=look.muted)
    _days(drawn[-1], look, shown.days)
    return figure


def _values(panel: Panel, look: Look, name: str, chart: ControlChart) -> None:
    x = np.arange(len(chart.values))
    panel.level_band(chart.lower, chart.upper, look.band)
    for limit in (chart.lower, chart.upper):
        panel.level_line(limit, look.muted, 0.8)
    panel.level_line(chart.centre, look.muted, 1.2)
    panel.plot(x, chart.values, **line(0).options(look))
    _ring(panel, look, chart.values, _within(chart, BEYOND))
    low = min(float(chart.values.min()), chart.lower)
    high = max(float(chart.values.max()), chart.upper)
    spare = max(0.08 * (high - low), (_LEAST_SPAN - (high - low)) / 2)
    panel.set_limits(y=(low - spare, high + spare))
    panel.title = name


def _ranges(panel: Panel, look: Look, chart: ControlChart) -> None:
    x = np.arange(len(chart.values))
    panel.level_band(0, chart.upper_range, look.band)
    panel.level_line(chart.upper_range, look.muted, 0.8)
    panel.level_line(chart.mean_range, look.muted, 1.2)
    panel.plot(x, chart.moving_range, **line(0).options(look) | {"width": 1.0, "marker": "."})
    jumps = _within(chart, RANGE) & (chart.moving_range > chart.upper_range)
    _ring(panel, look, chart.moving_range, jumps)
    highest = max(float(np.nanmax(chart.moving_range)), chart.upper_range, 0.1)
    panel.set_limits(y=(0, 1.15 * highest))
    panel.y_label = "range"
    panel.y.most = 2


def _within(chart: ControlChart, rule: str) -> Mask:
    mask = np.zeros(len(chart.values), dtype=np.bool_)
    for signal in chart.signals:
        if signal.rule == rule:
            mask[signal.first : signal.last + 1] = True
    return mask


def _ring(panel: Panel, look: Look, values: Array, ringed: Mask) -> None:
    style = line(0).options(look)
    panel.plot(
        np.flatnonzero(ringed), values[ringed], color=look.accents[1], marker="o",
        edge_width=1.6, size=_RINGED * style["size"], order=4,
    )  # fmt: skip


def _days(panel: Panel, look: Look, days: Sequence[str]) -> None:
    """Name a few readings by their day, the first and the last always."""
    count = len(days)
    shown = min(count, 2 if look.narrow else 5)
    ticks = np.unique(np.linspace(0, count - 1, shown).round().astype(int))
    panel.set_ticks(panel.x, ticks, [days[i] for i in ticks])
    panel.set_limits(x=(-0.6, count - 0.4))


# Figure: which tones have moved from where earlier prints had them, and which way.

_LEAST_REACH = 1.0


def movement_by_tone(moved: Movement, look: Look = LIGHT) -> Figure:
    """Draw the change of a*, b* and of L* over level."""
    heights = (2.2, 1.7, HEIGHT) if look.narrow else (2.3, 1.7, HEIGHT)
    figure, (colour, tone, bar) = panels(look, heights)
    series = (("a*: up reddish, down greenish", 0), ("b*: up yellowish, down bluish", 1))
    for index, (name, axis) in enumerate(series):
        colour.plot(moved.level, moved.delta_ab[:, axis], **line(index).options(look), label=name)
    colour.title = "Δa*, Δb*: change from before"
    colour.legend_above(columns=1 if look.narrow else 2)
    tone.plot(moved.level, moved.delta_L, **line(2).options(look))
    tone.title = "ΔL*: above 0 lighter than before, below darker"
    _around_zero(colour, look, moved.delta_ab)
    _around_zero(tone, look, moved.delta_L)
    grey = np.column_stack([moved.L, np.zeros((len(moved.L), 2))])
    tone_bar(bar, moved.level, grey)
    bar.x_label = "level sent, from black (0) to paper (1)"
    bar.set_limits(x=(-0.015, 1.015))
    return figure


def _around_zero(panel: Panel, look: Look, values: Array) -> None:
    panel.level_line(0.0, look.muted, 0.7)
    reach = max(1.1 * float(np.abs(values).max()), _LEAST_REACH)
    panel.set_limits(y=(-reach, reach))


Course = tuple[tuple[datetime, float], ...]


@dataclass(frozen=True, eq=False)
class Overview:
    """What the figure shows.

    Attributes
    ----------
    rows
        Name of each print, and its course: when it was measured, and the mean ΔCh.
    limit
        The mean ΔCh that the grade allows.
    """

    rows: Sequence[tuple[str, Course]]
    limit: float


def overview(shown: Overview, look: Look = LIGHT) -> Figure:
    """Draw each print over the same days and to the same scale; a grey band up to the limit."""
    figure, drawn = panels(look, (0.95 if look.narrow else 0.85,) * len(shown.rows))
    days = [[moment.timestamp() / 86400 for moment, _ in course] for _, course in shown.rows]
    highest = max(shown.limit, *(value for _, course in shown.rows for _, value in course))
    first, last = min(map(min, days)), max(map(max, days))
    spare = max((last - first) / 50, 0.5)
    for panel, (name, course), own in zip(drawn, shown.rows, days, strict=True):
        panel.level_band(0.0, shown.limit, look.band)
        panel.plot(own, [value for _, value in course], **line(0).options(look) | {"marker": "."})
        panel.title = name
        panel.set_limits(y=(0.0, 1.15 * highest))
        panel.y.most = 2
    drawn[-1].set_ticks(drawn[-1].x, *date_ticks(first, last, 3 if look.narrow else 7))
    drawn[-1].set_limits(x=(first - spare, last + spare))
    return figure


_STEPS_OF_DAYS = (1, 2, 5, 10)
_STEPS_OF_MONTHS = (1, 2, 3, 6, 12, 24, 60, 120)


def date_ticks(first: float, last: float, most: int) -> tuple[list[float], list[str]]:
    """Return at most so many days, even apart, and how they are named.

    Parameters
    ----------
    first, last
        Days since 1970-01-01.
    """
    start, end = (datetime.fromtimestamp(86400 * day) for day in (first, last))
    months = [
        datetime(year, month, 1)
        for year in range(start.year, end.year + 2)
        for month in range(1, 13)
    ]
    choices: list[list[datetime]] = []
    for step in _STEPS_OF_DAYS:
        days = (end - start).days + 2
        if days <= 10 * most:
            midnights = [
                datetime(start.year, start.month, start.day) + timedelta(days=d)
                for d in range(days)
            ]
            choices.append([day for day in midnights if (day.toordinal()) % step == 0])
    for step in _STEPS_OF_MONTHS:
        choices.append([day for day in months if (12 * day.year + day.month - 1) % step == 0])
    within = [[day for day in days if start <= day <= end] for days in choices]
    chosen = next((days for days in within if len(days) <= most), [])
    if len(chosen) < 2:
        chosen = [start, end] if end > start else [start]
    named = "%Y-%m" if all(day.day == 1 for day in chosen) else "%Y-%m-%d"
    return [day.timestamp() / 86400 for day in chosen], [day.strftime(named) for day in chosen]
