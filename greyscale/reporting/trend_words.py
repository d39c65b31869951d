"""A trend in sentences: has it changed, by how much, and is a new correction worth it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.control_chart import BEYOND, FALL, RANGE, RISE, RULES, ControlChart, Signal
from greyscale.analysis.followed import (
    CHANGED,
    CHARACTERISTICS,
    FIRM_READINGS,
    LEAST_READINGS,
    NOTICED_DELTA_CH,
    NOTICED_DELTA_L,
    ONCE,
    TOO_FEW,
)
from greyscale.analysis.trend import DatedAnalysis, Movement, Trend, is_noticed
from greyscale.colorimetry.arrays import Array
from greyscale.records.entries import FILE, Entry, NoteDetails, ReadingDetails
from greyscale.reporting.cast_words import joined
from greyscale.reporting.next_step import after_trend
from greyscale.reporting.numbers import day, fixed, minute, signed
from greyscale.reporting.terminal import conclude, plain_table

# What a trend is of: the printer, the paper, how it was measured, and what was noted meanwhile.

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
    """Return a trend with what the log knows of its readings.

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


_GROUPS = {one.key: one.group for one in CHARACTERISTICS}
_NAMED = 3


def trend_sentences(shown: ShownTrend) -> tuple[str, ...]:
    """Return what to do first; then what has changed, how far, and how sure that is."""
    trend = shown.trend
    sentences = [_decision(trend), _verdict(trend)]
    if trend.moved is not None:
        sentences.append(_moved(trend, trend.moved))
    if trend.changed:
        sentences += [*_ends(trend), *_noted(shown)]
    sentences += _grade(shown)
    if trend.verdict != TOO_FEW and trend.baseline < FIRM_READINGS:
        sentences.append(
            f"The limits come from {trend.baseline} readings; from about {FIRM_READINGS} they are "
            "firm."
        )
    return tuple(sentence for sentence in sentences if sentence)


def reading_words(one: DatedAnalysis) -> str:
    """Name a reading by its day and its entry."""
    return f"the reading of {day(one.moment)} (entry {one.number})"


def _decision(trend: Trend) -> str:
    moved = trend.moved
    if moved is None:
        return (
            f"There is one reading, of {day(trend.readings[0].moment)}: nothing to compare it "
            "with yet."
        )
    small = f"less than is noticed (mean ΔCh {NOTICED_DELTA_CH:g}, or {NOTICED_DELTA_L:g} L*)"
    if trend.changed:
        if not trend.worth_correcting:
            return f"No new correction is needed: the print has changed, but by {small}."
        if trend.since == len(trend.readings) - 1:
            return (
                "Print and measure the chart once more before you correct: so far only the latest "
                "reading shows a change."
            )
        return (
            "A new correction is worth it: the print has changed by more than is noticed, and a "
            "correction made before is off by as much."
        )
    if is_noticed(moved):
        by = "though within what these readings vary by"
        if trend.verdict == TOO_FEW:
            by = "which may be chance"
        return (
            "Print and measure the chart again: the latest reading differs by more than is "
            f"noticed, {by}."
        )
    return f"No new correction is needed: the latest reading differs by {small}."


def _verdict(trend: Trend) -> str:
    count = len(trend.readings)
    if count == 1:
        return ""
    if trend.verdict == TOO_FEW:
        return (
            f"With {count} readings a change cannot be told from chance; from {LEAST_READINGS} on "
            "it can."
        )
    if trend.verdict == CHANGED and trend.since is not None:
        since = reading_words(trend.readings[trend.since])
        return f"{_subject(trend)} has changed since {since}: {_reasons(trend)}."
    first = day(trend.readings[0].moment)
    if trend.verdict == ONCE:
        return f"It is now as it was since {first}, but {_outstanding(trend)}."
    return (
        f"Nothing has changed: all {count} readings since {first} vary as sheets of one print do."
    )


def _subject(trend: Trend) -> str:
    groups = {_GROUPS[key] for key in trend.signalled}
    if groups == {"paper"}:
        return "The paper white"
    return "The black" if groups == {"black"} else "The print"


def _reasons(trend: Trend) -> str:
    named = [_reason(NAMES[key], trend.charts[key]) for key in trend.signalled[:_NAMED]]
    more = len(trend.signalled) - _NAMED
    if more > 0:
        named.append(f"{more} more numbers" if more > 1 else "one more number")
    return joined(named)


def _reason(name: str, chart: ControlChart) -> str:
    value = fixed(float(chart.values[-1]))
    signal = _telling(chart)
    if signal is None:
        # It shows together with the others, though not by itself.
        return f"{name} is {value}, from {fixed(chart.centre)}"
    count = signal.last - signal.first + 1
    if signal.rule == BEYOND:
        side = "above" if chart.values[signal.first] > chart.centre else "below"
        limit = fixed(chart.upper if side == "above" else chart.lower)
        if signal.last == len(chart.values) - 1:
            return f"{name} is {value}, {side} its limit of {limit}"
        return f"{name} went {side} its limit of {limit} and has not come back ({value})"
    if signal.rule == RISE:
        return f"{name} has risen for {count} readings, to {value}"
    if signal.rule == FALL:
        return f"{name} has fallen for {count} readings, to {value}"
    side = "above" if chart.values[-1] > chart.centre else "below"
    return f"{name} has been {side} its centre of {fixed(chart.centre)} for {count} readings"


def _telling(chart: ControlChart) -> Signal | None:
    """Return what says most of the latest value: beyond a limit before a run, never a jump."""
    active = [signal for signal in chart.active if signal.rule != RANGE]
    last = active[-1] if active else None
    return next((signal for signal in active[::-1] if signal.rule == BEYOND), last)


def _outstanding(trend: Trend) -> str:
    worst = max(trend.stands_out, key=lambda i: (len(beyond_names(trend, i)), i))
    named = _some(trend, worst)
    where = f"{reading_words(trend.readings[worst])} stands out{f' in {named}' if named else ''}"
    others = len(trend.stands_out) - 1
    if others:
        where += f", and {others} other{'s' if others > 1 else ''} in less"
    return f"{where}: misread, or another sheet?"


def _some(trend: Trend, index: int) -> str:
    names = beyond_names(trend, index)
    return joined([*names[:_NAMED], *([f"{len(names) - _NAMED} more"] if names[_NAMED:] else [])])


def _moved(trend: Trend, moved: Movement) -> str:
    others = "those before" if trend.since is not None else "all earlier ones"
    if len(trend.readings) == 2:
        others = "the earlier one"
    towards = f", towards {moved.hue}" if is_noticed(moved) else ""
    return (
        f"The latest print differs from {others} by mean ΔCh {fixed(moved.mean_delta_Ch)}, at most "
        f"{fixed(moved.max_delta_Ch)} (level {fixed(moved.max_at_level)}){towards}, and by "
        f"{signed(moved.mean_delta_L)} in L* on average."
    )


def _ends(trend: Trend) -> list[str]:
    groups = {_GROUPS[key] for key in trend.signalled}
    found = []
    if trend.moved is not None and "paper" in groups:
        found.append(
            f"The paper white has moved by L* {_lab(trend.moved.paper)}: another batch, or an "
            "instrument that needs its white tile?"
        )
    if trend.moved is not None and "black" in groups:
        found.append(f"The black has moved by L* {_lab(trend.moved.black)}.")
    return found


def _lab(change: Array) -> str:
    L, a, b = change
    return f"{signed(L)}, a* {signed(a)}, b* {signed(b)}"


def _noted(shown: ShownTrend) -> list[str]:
    notes = [
        f"'{' '.join(note.text.split())}' ({day(note.moment)})"
        for note in shown.notes_before_change[-_NAMED:]
    ]
    return [f"Noted at that time: {joined(notes)}."] if notes else []


def _grade(shown: ShownTrend) -> list[str]:
    """Say of prints made through a correction whether they still keep their grade."""
    analysis = shown.trend.readings[-1].analysis
    latest = analysis.neutrality
    if shown.correction is None:
        return []
    keeps = {"pass": "keeps", "fail": "does not keep"}.get(analysis.verdict, "may or may not keep")
    return [
        f"Printed through '{shown.correction}', the latest {keeps} the {latest.tolerance} grade: "
        f"mean ΔCh {fixed(latest.mean_delta_Ch)}, largest {fixed(latest.max_delta_Ch)}."
    ]


# A trend in the terminal: the sentences, every reading, and what the control charts say.


def show_trend(
    shown: ShownTrend, console: Console, every: bool = False, written: Path | None = None
) -> None:
    """Print a trend.

    Parameters
    ----------
    console
        Where to print; it decides about colour (NO_COLOR, not a terminal: none).
    every
        The tables: every reading, and the control limits.
    written
        The report that was written.
    """
    trend = shown.trend
    console.print(Text.assemble((shown.title, "bold"), "\n", (details_of(shown), "dim")))
    console.print()
    if every:
        console.print(readings_table(trend))
        console.print()
        if trend.charts:
            console.print(charts_table(trend))
            console.print()
    for note in shown.notes:
        console.print(Text(f"Note {note.number}, {minute(note.moment)}: {note.text}"))
    if shown.notes:
        console.print()
    conclude(
        console,
        trend_sentences(shown),
        after_trend(trend),
        remarks=shown.remarks,
        rests_on=trend.rests_on,
        every=every,
        written=written,
    )


def details_of(shown: ShownTrend) -> str:
    """Say in one line how the readings were printed and measured."""
    known = (
        _counted(len(shown.trend.readings)),
        shown.condition or "condition not stated",
        f"{shown.backing} backing" if shown.backing else "backing not stated",
        f"D50, {shown.observer}°",
        f"inks {shown.inks}" if shown.inks else None,
        shown.settings,
        f"through '{shown.correction}'" if shown.correction else "without correction",
    )
    return ", ".join(text for text in known if text)


def _counted(count: int) -> str:
    return "1 reading" if count == 1 else f"{count} readings"


def readings_table(trend: Trend) -> Table:
    """Return a line for each reading, the oldest first; what lies beyond a limit by name."""
    headings = ("entry", "measured", "mean ΔCh", "max ΔCh", "ΔL*", "paper b*", "black L*")
    table = plain_table("Readings", headings, (1,))
    table.add_column("beyond")
    for i, one in enumerate(trend.readings):
        neutrality = one.analysis.neutrality
        values = {key: chart.values[i] for key, chart in trend.charts.items()}
        table.add_row(
            str(one.number),
            f"{one.moment:%Y-%m-%d}",
            fixed(neutrality.mean_delta_Ch),
            fixed(neutrality.max_delta_Ch),
            signed(values.get("mean_delta_L")),
            signed(float(one.analysis.paper[2])),
            fixed(float(one.analysis.black[0])),
            ", ".join(beyond_names(trend, i)),
        )
    return table


def charts_table(trend: Trend) -> Table:
    """Return a line for each number that is followed: its centre, limits, latest, and signals."""
    title = f"Control limits, from {trend.baseline} readings"
    table = plain_table(title, ("figure", "lower", "centre", "upper", "latest"))
    table.add_column("the latest is")
    for one in CHARACTERISTICS:
        chart = trend.charts[one.key]
        table.add_row(
            one.name,
            fixed(chart.lower),
            fixed(chart.centre),
            fixed(chart.upper),
            fixed(float(chart.values[-1])),
            standing(chart),
        )
    return table


def standing(chart: ControlChart) -> str:
    """Say how the latest value stands: "within", or the signals that it is part of."""
    rules = dict.fromkeys(signal.rule for signal in chart.active)
    return ", ".join(RULES[rule] for rule in rules) or "within"
