"""A trend in the terminal: the sentences, every reading, and what the control charts say."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.control_chart import RULES, ControlChart
from greyscale.analysis.followed import CHARACTERISTICS
from greyscale.analysis.trend import Trend
from greyscale.reporting.conclusion import conclude
from greyscale.reporting.dates import minute
from greyscale.reporting.next_step import after_trend
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.plain_table import plain_table
from greyscale.reporting.trend_subject import ShownTrend, beyond_names
from greyscale.reporting.trend_words import trend_sentences


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
    """Give a line for each reading, the oldest first; what lies beyond a limit by name."""
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
    """Give a line for each number that is followed: its centre, limits, latest, and signals."""
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
