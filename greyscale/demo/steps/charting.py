"""The demo's charts: a starting chart, and one that follows up what it measured."""

from __future__ import annotations

from greyscale.charts.chart import Chart, make_chart, write_chart
from greyscale.demo.workshop import FIRST_PRINT, READING, Step, Told, Workshop
from greyscale.readings.formats import read

CHART, FOLLOW_UP = "chart", "follow-up"
FOLLOW_UP_READING = "follow-up-reading.txt"


def _write(workshop: Workshop, chart: Chart) -> tuple[str, ...]:
    return tuple(path.name for path in write_chart(chart, workshop.path(chart.name)))


def _make_chart(workshop: Workshop) -> Told:
    chart = make_chart(CHART, near_neutral=True, date=FIRST_PRINT.date())
    files = _write(workshop, chart)
    return Told(
        f"{chart.summary[0]}. The patches beside the greys show how the printer answers when one "
        "channel changes: they are what the correction learns from.",
        commands=(f"greyscale chart -o {CHART} --near-neutral",),
        files=files,
    )


def _follow_up(workshop: Workshop) -> Told:
    first = read(workshop.path(READING))
    chart = make_chart(FOLLOW_UP, after=first, date=FIRST_PRINT.date())
    files = _write(workshop, chart)
    reading = workshop.print_and_measure(FOLLOW_UP, name="follow-up chart", seed=2, hours=48.0)
    workshop.write_reading(reading, FOLLOW_UP_READING)
    return Told(
        f"{chart.summary[0]}, printed and measured like the first. They go where the first "
        "reading leaves most uncertain:",
        details=chart.why,
        commands=(f"greyscale chart -o {FOLLOW_UP} --after {READING}",),
        files=(*files, FOLLOW_UP_READING),
    )


MAKE_CHART = Step("Make a chart of greys to print", _make_chart)
FOLLOW_UP_CHART = Step("Follow up: more patches where they tell most", _follow_up)
