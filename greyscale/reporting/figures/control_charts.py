"""Figure: numbers of a print over time, each with its moving range and control limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.control_chart import BEYOND, RANGE, ControlChart
from greyscale.colorimetry.arrays import Array, Mask
from greyscale.reporting.style import Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

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
