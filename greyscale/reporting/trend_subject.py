"""What a trend is of: the printer, the paper, how it was measured, and what was noted meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from greyscale.analysis.control_chart import BEYOND
from greyscale.analysis.followed import CHARACTERISTICS
from greyscale.analysis.trend import Trend
from greyscale.records.entries import FILE, Entry, NoteDetails, ReadingDetails
from greyscale.reporting.cast_words import joined

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


def shown_trend(
    trend: Trend, group: Sequence[Entry], correction: str | None, notes: Sequence[Entry]
) -> ShownTrend:
    """Give a trend with what the log knows of its readings.

    Parameters
    ----------
    group
        The readings' entries, all printed and measured alike.
    correction
        Name of the correction that they were printed through.
    notes
        What was noted of this printer and paper.
    """
    entry = group[0]
    details = entry.details
    assert isinstance(details, ReadingDetails)
    return ShownTrend(
        trend=trend,
        printer=entry.printer,
        paper=entry.paper,
        inks=entry.inks,
        settings=entry.settings,
        condition=details.condition,
        backing=details.backing,
        observer=details.observer,
        correction=correction,
        notes=[
            Remark(note.id, note.moment, note.details.text)
            for note in notes
            if isinstance(note.details, NoteDetails)
        ],
        remarks=_remarks(group),
    )


def _remarks(group: Sequence[Entry]) -> tuple[str, ...]:
    remarks = []
    undated = [str(entry.id) for entry in group if entry.moment_from == FILE]
    if undated:
        remarks.append(
            f"When it was measured is not stated in the file of {_entries(undated)}: the file's "
            "own date stands for it."
        )
    instruments = {
        entry.details.instrument
        for entry in group
        if isinstance(entry.details, ReadingDetails) and entry.details.instrument
    }
    if len(instruments) > 1:
        remarks.append(
            f"{len(instruments)} instruments were used ({joined(sorted(instruments))}): a step "
            "between them is not a change in the print."
        )
    return tuple(remarks)


def _entries(numbers: Sequence[str]) -> str:
    return f"entry {numbers[0]}" if len(numbers) == 1 else f"entries {joined(list(numbers))}"


def beyond_names(trend: Trend, index: int) -> tuple[str, ...]:
    """Name what lies beyond a limit at one reading."""
    return tuple(
        NAMES[key]
        for key, chart in trend.charts.items()
        if any(s.rule == BEYOND and s.first <= index <= s.last for s in chart.signals)
    )
