"""A trend in sentences (has it changed, is a new correction worth it), as JSON, and as a report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from greyscale.analysis.control_chart import BEYOND, FALL, RANGE, RISE, RULES, ControlChart
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
from greyscale.base.plain_text import MISSING, day, decimals_beside, fixed, joined, minute, signed
from greyscale.base.rests_on import support_data
from greyscale.base.results import MeasuredAs, filled, json_text
from greyscale.colorimetry.arrays import Array
from greyscale.records.entries import FILE, Entry, LoggedNames, NoteDetails, ReadingDetails
from greyscale.reporting.figures.over_time import ControlCharts, control_charts, movement_by_tone
from greyscale.reporting.json_output import Data, lab_data, neutrality_data, picked
from greyscale.reporting.next_step import after_trend
from greyscale.reporting.page import (
    CAUTIONS,
    Number,
    Numbers,
    Picture,
    Prose,
    Report,
    Section,
    Table,
    known_facts,
)

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
    """

    number: int
    moment: datetime
    text: str


@dataclass(frozen=True, eq=False)
class ShownTrend(LoggedNames, MeasuredAs):
    """A trend with all that a reader needs to know of it.

    Attributes
    ----------
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
    """Return a trend with what the log knows of its readings."""
    entry = group[0]
    details = entry.details
    assert isinstance(details, ReadingDetails)
    return filled(
        ShownTrend,
        entry,
        details,
        trend=trend,
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
        entries = f"{'entry' if len(undated) == 1 else 'entries'} {joined(undated)}"
        remarks.append(
            f"When it was measured is not stated in the file of {entries}: the file's own date "
            "stands for it."
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
        sentences += _ends(trend)
        notes = [
            f"'{' '.join(note.text.split())}' ({day(note.moment)})"
            for note in shown.notes_before_change[-_NAMED:]
        ]
        sentences += [f"Noted at that time: {joined(notes)}."] if notes else []
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
        groups = {_GROUPS[key] for key in trend.signalled}
        only = groups.pop() if len(groups) == 1 else ""
        subject = {"paper": "The paper white", "black": "The black"}.get(only, "The print")
        return f"{subject} has changed since {since}: {_reasons(trend)}."
    first = day(trend.readings[0].moment)
    if trend.verdict == ONCE:
        # One alone may be the reading's fault; several in a row are the print's own way.
        back = any(index + 1 in trend.stands_out for index in trend.stands_out)
        now = "It has come back and is" if back else "It is now"
        return f"{now} as it was since {first}, but {_outstanding(trend)}"
    return (
        f"Nothing has changed: all {count} readings since {first} vary as sheets of one print do."
    )


def _reasons(trend: Trend) -> str:
    named = [_reason(NAMES[key], trend.charts[key]) for key in trend.signalled[:_NAMED]]
    more = len(trend.signalled) - _NAMED
    if more > 0:
        named.append(f"{more} more numbers" if more > 1 else "one more number")
    return joined(named)


def _reason(name: str, chart: ControlChart) -> str:
    value = fixed(float(chart.values[-1]))
    # Beyond a limit says most of the latest value, then a run; a jump says nothing of it.
    active = [one for one in reversed(chart.active) if one.rule != RANGE]
    signal = next((one for one in active if one.rule == BEYOND), active[0] if active else None)
    if signal is None:
        # It shows together with the others, though not by itself.
        return f"{name} is {value}, from {fixed(chart.centre)}"
    count = signal.last - signal.first + 1
    if signal.rule == BEYOND:
        side = "above" if chart.values[signal.first] > chart.centre else "below"
        edge = chart.upper if side == "above" else chart.lower
        decimals = decimals_beside(float(chart.values[-1]), edge, 2)
        value, limit = (fixed(one, decimals) for one in (float(chart.values[-1]), edge))
        if signal.last == len(chart.values) - 1:
            return f"{name} is {value}, {side} its limit of {limit}"
        return f"{name} went {side} its limit of {limit} and has not come back ({value})"
    if signal.rule == RISE:
        return f"{name} has risen for {count} readings, to {value}"
    if signal.rule == FALL:
        return f"{name} has fallen for {count} readings, to {value}"
    side = "above" if chart.values[-1] > chart.centre else "below"
    return f"{name} has been {side} its centre of {fixed(chart.centre)} for {count} readings"


def _outstanding(trend: Trend) -> str:
    worst = max(trend.stands_out, key=lambda i: (len(beyond_names(trend, i)), i))
    names = beyond_names(trend, worst)
    more = [f"{len(names) - _NAMED} more"] if names[_NAMED:] else []
    named = joined([*names[:_NAMED], *more])
    where = f"{reading_words(trend.readings[worst])} stands out{f' in {named}' if named else ''}"
    others = len(trend.stands_out) - 1
    if others:
        where += f", and {others} other{'s' if others > 1 else ''} in less"
    return f"{where}: misread, or another sheet?"


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


def _grade(shown: ShownTrend) -> list[str]:
    """Say of prints made through a correction whether they still keep their grade."""
    analysis = shown.trend.readings[-1].analysis
    latest = analysis.neutrality
    if shown.correction is None:
        return []
    keeps = {"pass": "is", "fail": "is not"}.get(analysis.verdict, "may or may not be")
    return [
        f"Printed through '{shown.correction}', the latest {keeps} within the "
        f"{latest.tolerance} tolerance: mean ΔCh {fixed(latest.mean_delta_Ch)}, largest "
        f"{fixed(latest.max_delta_Ch)}."
    ]


def _standing(chart: ControlChart) -> str:
    """Say how the latest value stands: "within", or the signals that it is part of."""
    rules = dict.fromkeys(signal.rule for signal in chart.active)
    return ", ".join(RULES[rule] for rule in rules) or "within"


def trend_data(shown: ShownTrend) -> Data:
    """Return a trend as plain data: readings by time, charts with as many values."""
    trend, moved = shown.trend, shown.trend.moved
    return {
        "schema": "greyscale/trend/1",
        **picked(
            shown, "printer", "paper", "inks", "settings", "condition", "backing", "observer",
            "correction",
        ),
        **picked(trend, "verdict", "changed", "worth_correcting", "baseline"),
        "since": None if trend.since is None else trend.readings[trend.since].number,
        "signalled": list(trend.signalled),
        "stands_out": [trend.readings[i].number for i in trend.stands_out],
        "sentences": list(trend_sentences(shown)),
        "moved": moved
        and {
            **{key: one for key, one in asdict(moved).items() if key not in ("L", "delta_ab")},
            "paper": lab_data(moved.paper),
            "black": lab_data(moved.black),
            "delta_a": moved.delta_ab[:, 0],
            "delta_b": moved.delta_ab[:, 1],
        },
        "readings": [
            {
                "entry": one.number,
                "name": one.analysis.reading.name,
                "moment": one.moment.isoformat(),
                "paper": lab_data(one.analysis.paper),
                "black": lab_data(one.analysis.black),
                "neutrality": neutrality_data(one.analysis.neutrality),
                "tone": asdict(one.analysis.tone),
            }
            for one in trend.readings
        ],
        "charts": {
            key: {name: value for name, value in asdict(chart).items() if name != "baseline"}
            for key, chart in trend.charts.items()
        },
        "notes": [
            {"entry": note.number, "moment": note.moment.isoformat(), "text": note.text}
            for note in shown.notes
        ],
        "rests_on": support_data(trend.rests_on),
        "remarks": list(shown.remarks),
    }  # fmt: skip


# The pictures of a trend, with what a reader must know of each.

NEUTRALITY = ("mean_delta_Ch", "mean_delta_a", "mean_delta_b")
TONE = ("mean_delta_L", "rms_delta_L")
ENDS = ("paper_L", "paper_a", "paper_b", "black_L")

_HOW_TO_READ = (
    "One dot for each reading, below it its distance from the one before. The thick line is the "
    "mean, the grey band lies between the control limits; a ring marks what is beyond."
)


def _charts_picture(shown: ShownTrend, keys: Sequence[str], name: str) -> Picture:
    trend = shown.trend
    moments = [one.moment for one in trend.readings]
    drawn = ControlCharts(
        charts=[(NAMES[key], trend.charts[key]) for key in keys],
        days=[f"{moment:%Y-%m-%d}" for moment in moments],
        since=trend.since,
        # Each where it belongs between the readings, by its number.
        notes=[
            (sum(moment <= note.moment for moment in moments) - 0.5, str(note.number))
            for note in shown.notes
        ],
    )
    caption = [_HOW_TO_READ]
    if trend.since is not None:
        caption.append("The dotted line is where the change shows.")
    if drawn.notes:
        caption.append("Numbered lines are notes, listed below.")
    return Picture(
        lambda look: control_charts(drawn, look),
        name,
        alt=f"Control charts of {len(trend.readings)} readings. " + _in_words(shown, keys),
        caption=" ".join(caption),
    )


def _movement_picture(moved: Movement) -> Picture:
    return Picture(
        lambda look: movement_by_tone(moved, look),
        "movement",
        alt=f"Change of a*, b* and L* from black to paper: largest ΔCh {fixed(moved.max_delta_Ch)} "
        f"at level {fixed(moved.max_at_level)}, mean ΔL* {signed(moved.mean_delta_L)}.",
        caption="The latest print against those before, both as differences from the aim: what a "
        "correction made before is off by now.",
    )


def _in_words(shown: ShownTrend, keys: Sequence[str]) -> str:
    charts = shown.trend.charts
    return " ".join(
        f"{NAMES[key]}: latest {fixed(float(charts[key].values[-1]))}, limits "
        f"{fixed(charts[key].lower)} to {fixed(charts[key].upper)}, {_standing(charts[key])}; "
        f"{sum(s.last - s.first + 1 for s in charts[key].signals if s.rule == BEYOND)} beyond."
        for key in keys
    )


_METHOD = (
    "One control chart tells for the tones, the paper and the black together whether the print has "
    "changed (multivariate EWMA and Hotelling's T², after ISO 7870): a steady printer is followed "
    "for 200 readings or more, on average, before it is called changed by mistake. How much "
    "sheets vary is learnt from the readings. The charts here show each number by itself, with "
    "limits three standard deviations from the mean of what was before."
)


def trend_report(shown: ShownTrend, command: str = "", db: Path | None = None) -> Report:
    """Make the report of a trend; of a print log that isn't the usual one, with its file."""
    sections = [Section("At a glance", (_numbers_of(shown),))]
    if shown.trend.moved is not None:
        sections.append(Section("Which tones have moved", (_movement_picture(shown.trend.moved),)))
    if shown.trend.charts:
        sections += [
            Section("Neutrality", (_charts_picture(shown, NEUTRALITY, "neutrality"),)),
            Section("Tone", (_charts_picture(shown, TONE, "tone"),)),
            Section("Paper and black", (_charts_picture(shown, ENDS, "paper-black"),)),
            Section("Control limits", (Prose(_METHOD), _limits_table(shown))),
        ]
    sections.append(Section("Every reading", (_readings_table(shown),)))
    if shown.notes:
        rows = tuple((str(note.number), minute(note.moment), note.text) for note in shown.notes)
        table = Table(("entry", "noted", "note"), rows, words=frozenset({1, 2}), at_once=True)
        sections.append(Section("Notes", (table,)))
    return Report(
        "A printer over time",
        shown.title, trend_sentences(shown), tuple(sections), _facts_of(shown), CAUTIONS,
        command, shown.trend.rests_on, after_trend(shown.trend, db),
        texts=lambda: {"trend.json": json_text(trend_data(shown))},
        about=_about(shown), remarks=tuple(shown.remarks),
    )  # fmt: skip


def _about(shown: ShownTrend) -> str:
    count = len(shown.trend.readings)
    known = (
        "1 reading" if count == 1 else f"{count} readings",
        shown.condition or "condition not stated",
        f"{shown.backing} backing" if shown.backing else "backing not stated",
        f"D50, {shown.observer}°",
        f"inks {shown.inks}" if shown.inks else None,
        shown.settings,
        f"through '{shown.correction}'" if shown.correction else "without correction",
    )
    return ", ".join(text for text in known if text)


def _numbers_of(shown: ShownTrend) -> Numbers:
    trend = shown.trend
    latest = trend.readings[-1].analysis
    numbers = [
        Number(fixed(latest.neutrality.mean_delta_Ch), "mean ΔCh, latest", *_limits(shown, 0)),
        Number(fixed(float(latest.paper[2])), "b* of the paper, latest", *_limits(shown, 8)),
    ]
    if trend.moved is not None:
        numbers += [
            Number(fixed(trend.moved.mean_delta_Ch), "mean ΔCh from before", "all tones"),
            Number(signed(trend.moved.mean_delta_L), "mean ΔL* from before", "all tones"),
        ]
    return Numbers(tuple(numbers))


def _limits(shown: ShownTrend, index: int) -> tuple[str, bool | None]:
    chart = shown.trend.charts.get(CHARACTERISTICS[index].key)
    if chart is None:
        return "", None
    inside = chart.lower <= chart.values[-1] <= chart.upper
    return f"limits {fixed(chart.lower)} to {fixed(chart.upper)}", bool(inside)


def _limits_table(shown: ShownTrend) -> Table:
    charts = shown.trend.charts
    rows = tuple(
        (
            one.name,
            fixed(charts[one.key].lower),
            fixed(charts[one.key].centre),
            fixed(charts[one.key].upper),
            fixed(charts[one.key].upper_range),
            fixed(float(charts[one.key].values[-1])),
            _standing(charts[one.key]),
        )
        for one in CHARACTERISTICS
    )
    head = ("figure", "lower", "centre", "upper", "upper, range", "latest", "the latest is")
    caption = f"From {shown.trend.baseline} readings"
    return Table(head, rows, caption, frozenset({0, 6}))


def _readings_table(shown: ShownTrend) -> Table:
    rows = tuple(
        (
            str(one.number),
            minute(one.moment),
            one.analysis.reading.name,
            fixed(one.analysis.neutrality.mean_delta_Ch),
            fixed(one.analysis.neutrality.max_delta_Ch),
            fixed(one.analysis.tone.rms_delta_L),
            *(fixed(float(value)) for value in one.analysis.paper),
            fixed(float(one.analysis.black[0])),
            ", ".join(beyond_names(shown.trend, i)) or MISSING,
        )
        for i, one in enumerate(shown.trend.readings)
    )
    head = (
        "entry", "measured", "reading", "mean ΔCh", "max ΔCh", "RMS ΔL*", "paper L*", "a*", "b*",
        "black L*", "beyond a limit",
    )  # fmt: skip
    return Table(head, rows, "The oldest first", frozenset({1, 2, 10}))


def _facts_of(shown: ShownTrend) -> tuple[tuple[str, str], ...]:
    readings = shown.trend.readings
    latest = readings[-1].analysis
    instruments = dict.fromkeys(
        one.analysis.reading.instrument for one in readings if one.analysis.reading.instrument
    )
    rows = (
        ("Printer", shown.printer),
        ("Paper", shown.paper),
        ("Inks", shown.inks),
        ("Settings", shown.settings),
        ("Readings", f"{len(readings)}, {day(readings[0].moment)} to {day(readings[-1].moment)}"),
        ("Printed", f"through '{shown.correction}'" if shown.correction else "without correction"),
        ("Condition", f"{shown.condition} (ISO 13655)" if shown.condition else "not stated"),
        ("Backing", shown.backing or "not stated"),
        ("Instrument", ", ".join(instruments)),
        ("Colour", f"CIELAB under D50, {shown.observer}° observer"),
        ("Aims", f"tone {latest.tone.aim}, neutral {latest.neutrality.aim}"),
    )
    return known_facts(rows, shown.remarks)
