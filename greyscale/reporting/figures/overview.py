"""Figure: every print over time, one small panel each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from greyscale.reporting.style import Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure

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


@in_look
def overview(shown: Overview, look: Look) -> Figure:
    """Draw each print over the same days and to the same scale; a grey band up to the limit."""
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num

    figure, drawn = panels(look, (0.95 if look.narrow else 0.85,) * len(shown.rows))
    days = [[float(date2num(moment)) for moment, _ in course] for _, course in shown.rows]
    highest = max(shown.limit, *(value for _, course in shown.rows for _, value in course))
    first, last = min(map(min, days)), max(map(max, days))
    spare = max((last - first) / 50, 0.5)
    for panel, (name, course), own in zip(drawn, shown.rows, days, strict=True):
        panel.axhspan(0.0, shown.limit, color=look.band, linewidth=0)
        panel.plot(own, [value for _, value in course], **line(0).options(look) | {"marker": "."})
        panel.set_title(name)
        panel.set_ylim(0.0, 1.15 * highest)
        panel.locator_params(axis="y", nbins=2)
    locator = AutoDateLocator(maxticks=3 if look.narrow else 7)
    drawn[-1].xaxis.set_major_locator(locator)
    drawn[-1].xaxis.set_major_formatter(ConciseDateFormatter(locator))
    drawn[-1].set_xlim(first - spare, last + spare)
    return figure
