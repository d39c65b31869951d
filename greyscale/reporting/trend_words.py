"""A trend in sentences: has it changed, by how much, and is a new correction worth it."""

from __future__ import annotations

from greyscale.analysis.control_chart import BEYOND, FALL, RANGE, RISE, ControlChart, Signal
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
from greyscale.reporting.cast_words import joined
from greyscale.reporting.dates import day
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.trend_subject import NAMES, ShownTrend, beyond_names

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
    """Give what says most of the latest value: beyond a limit before a run, never a jump."""
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
