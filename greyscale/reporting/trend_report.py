"""The report and figures of a trend, as files in a folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from greyscale.analysis.control_chart import BEYOND, ControlChart
from greyscale.analysis.followed import CHARACTERISTICS
from greyscale.analysis.trend import Movement
from greyscale.base.json_output import json_text
from greyscale.base.rests_on import support_data
from greyscale.reporting.figures.over_time import ControlCharts, control_charts, movement_by_tone
from greyscale.reporting.json_output import Data, lab_data, neutrality_data, tone_data
from greyscale.reporting.next_step import after_trend
from greyscale.reporting.numbers import MISSING, day, fixed, minute, signed
from greyscale.reporting.page import (
    CAUTIONS,
    Number,
    Numbers,
    Picture,
    Prose,
    Report,
    Section,
    Table,
)
from greyscale.reporting.trend_words import (
    NAMES,
    ShownTrend,
    beyond_names,
    standing,
    trend_sentences,
)

# A trend as JSON, schema "greyscale/trend/1".

SCHEMA = "greyscale/trend/1"


def trend_data(shown: ShownTrend) -> Data:
    """Return a trend as plain data: readings by time, charts with as many values."""
    trend = shown.trend
    return {
        "schema": SCHEMA,
        "printer": shown.printer,
        "paper": shown.paper,
        "inks": shown.inks,
        "settings": shown.settings,
        "condition": shown.condition,
        "backing": shown.backing,
        "observer": shown.observer,
        "correction": shown.correction,
        "verdict": trend.verdict,
        "changed": trend.changed,
        "since": None if trend.since is None else trend.readings[trend.since].number,
        "signalled": list(trend.signalled),
        "stands_out": [trend.readings[i].number for i in trend.stands_out],
        "worth_correcting": trend.worth_correcting,
        "sentences": list(trend_sentences(shown)),
        "moved": None if trend.moved is None else _movement(trend.moved),
        "baseline": trend.baseline,
        "readings": [
            {
                "entry": one.number,
                "name": one.analysis.reading.name,
                "moment": one.moment.isoformat(),
                "paper": lab_data(one.analysis.paper),
                "black": lab_data(one.analysis.black),
                "neutrality": neutrality_data(one.analysis.neutrality),
                "tone": tone_data(one.analysis.tone),
            }
            for one in trend.readings
        ],
        "charts": {key: _chart(chart) for key, chart in trend.charts.items()},
        "notes": [
            {"entry": note.number, "moment": note.moment.isoformat(), "text": note.text}
            for note in shown.notes
        ],
        "rests_on": support_data(trend.rests_on),
        "remarks": list(shown.remarks),
    }


def _chart(chart: ControlChart) -> Data:
    return {
        "values": chart.values,
        "moving_range": chart.moving_range,
        "centre": chart.centre,
        "lower": chart.lower,
        "upper": chart.upper,
        "mean_range": chart.mean_range,
        "upper_range": chart.upper_range,
        "signals": [asdict(signal) for signal in chart.signals],
    }


def _movement(moved: Movement) -> Data:
    return {
        "mean_delta_Ch": moved.mean_delta_Ch,
        "max_delta_Ch": moved.max_delta_Ch,
        "max_at_level": moved.max_at_level,
        "hue": moved.hue,
        "mean_delta_L": moved.mean_delta_L,
        "mean_size_delta_L": moved.mean_size_delta_L,
        "without_noise_delta_Ch": moved.without_noise_delta_Ch,
        "without_noise_delta_L": moved.without_noise_delta_L,
        "paper": lab_data(moved.paper),
        "black": lab_data(moved.black),
        "level": moved.level,
        "delta_L": moved.delta_L,
        "delta_a": moved.delta_ab[:, 0],
        "delta_b": moved.delta_ab[:, 1],
        "delta_Ch": moved.delta_Ch,
    }


# The pictures of a trend, with what a reader must know of each.

NEUTRALITY = ("mean_delta_Ch", "mean_delta_a", "mean_delta_b")
TONE = ("mean_delta_L", "rms_delta_L")
ENDS = ("paper_L", "paper_a", "paper_b", "black_L")

_HOW_TO_READ = (
    "One dot for each reading, below it its distance from the one before. The thick line is the "
    "mean, the grey band lies between the control limits; a ring marks what is beyond."
)


def charts_picture(shown: ShownTrend, keys: Sequence[str], name: str) -> Picture:
    """Show some of the numbers over time."""
    trend = shown.trend
    drawn = ControlCharts(
        charts=[(NAMES[key], trend.charts[key]) for key in keys],
        days=[f"{one.moment:%Y-%m-%d}" for one in trend.readings],
        since=trend.since,
        notes=_places(shown),
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


def movement_picture(moved: Movement) -> Picture:
    """Show which tones have moved."""
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
        f"{fixed(charts[key].lower)} to {fixed(charts[key].upper)}, {standing(charts[key])}; "
        f"{sum(s.last - s.first + 1 for s in charts[key].signals if s.rule == BEYOND)} beyond."
        for key in keys
    )


def _places(shown: ShownTrend) -> list[tuple[float, str]]:
    """Return where each note belongs between the readings, and its number."""
    moments = [one.moment for one in shown.trend.readings]
    return [
        (sum(moment <= note.moment for moment in moments) - 0.5, str(note.number))
        for note in shown.notes
    ]


# The report of a trend: has it changed, the control charts, every reading.

KIND = "A printer over time"

_METHOD = (
    "One control chart tells for the tones, the paper and the black together whether the print has "
    "changed (multivariate EWMA and Hotelling's T², after ISO 7870): a steady printer is followed "
    "for 200 readings or more, on average, before it is called changed by mistake. How much "
    "sheets vary is learnt from the readings. The charts here show each number by itself, with "
    "limits three standard deviations from the mean of what was before."
)


def trend_report(shown: ShownTrend, command: str = "") -> Report:
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
        texts={"trend.json": json_text(trend_data(shown))},
    )  # fmt: skip


def numbers_of(shown: ShownTrend) -> Numbers:
    """Return the latest reading at a glance, against the limits."""
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
    """Return a line for each number that is followed."""
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
    """Return a line for each reading, the oldest first."""
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
