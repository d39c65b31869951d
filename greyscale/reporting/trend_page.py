"""The report of a trend: has it changed, the control charts, every reading."""

from __future__ import annotations

from greyscale.analysis.followed import CHARACTERISTICS
from greyscale.reporting.dates import day, minute
from greyscale.reporting.next_step import after_trend
from greyscale.reporting.numbers import MISSING, fixed, signed
from greyscale.reporting.page import CAUTIONS, Number, Numbers, Prose, Report, Section, Table
from greyscale.reporting.trend_pictures import (
    ENDS,
    NEUTRALITY,
    TONE,
    charts_picture,
    movement_picture,
)
from greyscale.reporting.trend_subject import ShownTrend, beyond_names
from greyscale.reporting.trend_table import standing
from greyscale.reporting.trend_words import trend_sentences

KIND = "A printer over time"

_METHOD = (
    "One control chart tells for the tones, the paper and the black together whether the print has "
    "changed (multivariate EWMA and Hotelling's T², after ISO 7870): a steady printer is followed "
    "for 200 readings or more, on average, before it is called changed by mistake. How much "
    "sheets vary is learnt from the readings. The charts here show each number by itself, with "
    "limits three standard deviations from the mean of what was before."
)


def trend_page(shown: ShownTrend, command: str = "") -> Report:
    """Make the report of a trend."""
    first, *others = trend_sentences(shown)
    sections = [Section("At a glance", (numbers_of(shown),))]
    if shown.trend.moved is not None:
        sections.append(Section("Which tones have moved", (movement_picture(shown.trend.moved),)))
    if shown.trend.charts:
        sections += [
            Section("Neutrality", (charts_picture(shown, NEUTRALITY, "neutrality"),)),
            Section("Tone", (charts_picture(shown, TONE, "tone"),)),
            Section("Paper and black", (charts_picture(shown, ENDS, "paper-black"),)),
        ]
    if shown.trend.charts:
        sections.append(Section("Control limits", (Prose(_METHOD), limits_table(shown))))
    sections.append(Section("Every reading", (readings_table(shown),)))
    if shown.notes:
        sections.append(Section("Notes", (notes_table(shown),)))
    return Report(
        KIND, shown.title, (first, " ".join(others)), tuple(sections), facts_of(shown), CAUTIONS,
        command, shown.trend.rests_on, after_trend(shown.trend),
    )  # fmt: skip


def numbers_of(shown: ShownTrend) -> Numbers:
    """Give the latest reading at a glance, against the limits."""
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


def limits_table(shown: ShownTrend) -> Table:
    """Give a line for each number that is followed."""
    charts = shown.trend.charts
    rows = tuple(
        (
            one.name,
            fixed(charts[one.key].lower),
            fixed(charts[one.key].centre),
            fixed(charts[one.key].upper),
            fixed(charts[one.key].upper_range),
            fixed(float(charts[one.key].values[-1])),
            standing(charts[one.key]),
        )
        for one in CHARACTERISTICS
    )
    head = ("figure", "lower", "centre", "upper", "upper, range", "latest", "the latest is")
    caption = f"From {shown.trend.baseline} readings"
    return Table(head, rows, caption, frozenset({0, 6}))


def readings_table(shown: ShownTrend) -> Table:
    """Give a line for each reading, the oldest first."""
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


def notes_table(shown: ShownTrend) -> Table:
    """List what was noted."""
    rows = tuple((str(note.number), minute(note.moment), note.text) for note in shown.notes)
    return Table(("entry", "noted", "note"), rows, words=frozenset({1, 2}))


def facts_of(shown: ShownTrend) -> tuple[tuple[str, str], ...]:
    """Say what was measured and how, as far as it is known."""
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
        *((("Remark" if i == 0 else ""), text) for i, text in enumerate(shown.remarks)),
    )
    return tuple((name, text) for name, text in rows if text)
