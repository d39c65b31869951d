"""What a trend is of: the printer, the paper, how it was measured, and what was noted meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from greyscale.analysis.control_chart import BEYOND
from greyscale.analysis.trend import CHARACTERISTICS, Trend

NAMES = {one.key: one.name for one in CHARACTERISTICS}
"""What is followed, as it is printed."""


@dataclass(frozen=True)
class Remark:
    """Something noted of this printer and paper: new ink, another batch.

    Attributes
    ----------
    number
        Its entry in the log.
    moment
        When.
    text
        In the words of who noted it.
    """

    number: int
    moment: datetime
    text: str


@dataclass(frozen=True, eq=False)
class ShownTrend:
    """A trend with all that a reader needs to know of it.

    Attributes
    ----------
    trend
        What was found.
    printer, paper, inks, settings, condition, backing, observer
        What all readings share; None where it is not known.
    correction
        Name of the correction that all were printed through, or None.
    notes
        What was noted from the first reading on, the oldest first.
    remarks
        What had to be decided, as sentences to be shown.
    """

    trend: Trend
    printer: str | None
    paper: str | None
    inks: str | None
    settings: str | None
    condition: str | None
    backing: str | None
    observer: str
    correction: str | None
    notes: Sequence[Remark] = ()
    remarks: Sequence[str] = ()

    @property
    def title(self) -> str:
        """The paper and the printer."""
        known = [name for name in (self.paper, self.printer) if name]
        return ", ".join(known) or "printer and paper not stated"

    @property
    def notes_before_change(self) -> tuple[Remark, ...]:
        """What was noted between the last reading before the change and the first after it."""
        since = self.trend.since
        if since is None:
            return ()
        start = self.trend.readings[since - 1].moment
        stop = self.trend.readings[since].moment
        # A note by day alone stands at its midnight.
        return tuple(
            note
            for note in self.notes
            if start.date() <= note.moment.date() and note.moment <= stop
        )


def beyond_names(trend: Trend, index: int) -> tuple[str, ...]:
    """Name what lies beyond a limit at one reading."""
    return tuple(
        NAMES[key]
        for key, chart in trend.charts.items()
        if any(s.rule == BEYOND and s.first <= index <= s.last for s in chart.signals)
    )
