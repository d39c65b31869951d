"""The demo's charts, prints, readings, their checks, drying, and the look at the print."""

from __future__ import annotations

from dataclasses import replace

from greyscale.analysis.analyse import analyse
from greyscale.analysis.drying import drying
from greyscale.charts.chart import Chart, make_chart, write_chart
from greyscale.checks.checking import check
from greyscale.demo.workshop import (
    FIRST_PRINT,
    READING,
    Step,
    StepResult,
    Workshop,
    strip_read_backwards,
)
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import read_layout
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.analysis_words import summary
from greyscale.reporting.drying_report import drying_report, drying_sentences
from greyscale.reporting.html import write_report

# The demo's charts: a starting chart, and one that follows up what it measured.

CHART, FOLLOW_UP = "chart", "follow-up"
FOLLOW_UP_READING = "follow-up-reading.txt"


def _write(workshop: Workshop, chart: Chart) -> tuple[str, ...]:
    return tuple(path.name for path in write_chart(chart, workshop.path(chart.name)))


def _make_chart(workshop: Workshop) -> StepResult:
    chart = make_chart(CHART, near_neutral=True, date=FIRST_PRINT.date())
    files = _write(workshop, chart)
    return StepResult(
        f"{chart.summary[0]}. The patches beside the greys show how the printer answers when one "
        "channel changes: they are what the correction learns from.",
        commands=(f"greyscale chart -o {CHART} --near-neutral",),
        files=files,
    )


def _follow_up(workshop: Workshop) -> StepResult:
    first = workshop.read(READING)
    chart = make_chart(FOLLOW_UP, after=first, date=FIRST_PRINT.date())
    files = _write(workshop, chart)
    reading = workshop.print_and_measure(FOLLOW_UP, name="follow-up chart", seed=2, hours=48.0)
    workshop.write_reading(reading, FOLLOW_UP_READING)
    return StepResult(
        f"{chart.summary[0]}, printed and measured like the first. They go where the first "
        "reading leaves most uncertain:",
        details=chart.why,
        commands=(f"greyscale chart -o {FOLLOW_UP} --after {READING}",),
        files=(*files, FOLLOW_UP_READING),
    )


MAKE_CHART = Step("Make a chart of greys to print", _make_chart)
FOLLOW_UP_CHART = Step("Follow up: more patches where they tell most", _follow_up)


# The demo's printing and measuring: here the simulated printer and instrument stand in.

FIRST_READING = "first-reading.txt"
MISREAD_STRIP = "C"


def _print_and_measure(workshop: Workshop) -> StepResult:
    reading = workshop.print_and_measure(CHART, name="starting chart", seed=1, hours=24.0)
    workshop.write_reading(strip_read_backwards(reading, MISREAD_STRIP), FIRST_READING)
    return StepResult(
        "The chart goes to the printer without colour management, dries for a day and is measured "
        "strip by strip, spectra, M1. (In the demo the printer and the instrument are "
        f"simulated, and so is a slip of the hand: strip {MISREAD_STRIP} is drawn through from "
        "its wrong end, and nobody notices.)",
        files=(FIRST_READING,),
    )


PRINT_AND_MEASURE = Step("Print it, let it dry, measure it", _print_and_measure)


# The demo's check of a reading: a strip read backwards, found and put right.


def _check(workshop: Workshop) -> StepResult:
    layout = read_layout(workshop.path(f"{CHART}.txt"))
    result = check(workshop.read(FIRST_READING), layout)
    if result.repaired is None:
        raise RuntimeError("the check of the demo's first reading found nothing to repair")
    write(result.repaired, workshop.path(READING))
    return StepResult(
        "Every patch is compared with its neighbours in tone and its repeats elsewhere on the "
        "page. What is wrong, and can be put right without guessing a value, is put right:",
        details=tuple(
            f"{finding.kind}, {finding.where} ({finding.certainty}): {finding.found}"
            for finding in result.findings
        ),
        commands=(f"greyscale check {FIRST_READING} --layout {CHART}.txt --repaired {READING}",),
        files=(READING,),
    )


CHECK = Step("Check the reading before believing it", _check)


# The demo's drying: how long a print on this paper must lie before it can be measured.

RAMP = "drying-ramp"
TONES = 13
HOURS = (0.2, 0.7, 1.5, 3.0, 6.0, 24.0, 48.0)
DRYING = "drying"


def reading_at(hours: float) -> str:
    """Name the file of the reading so many hours after printing."""
    return f"{RAMP}-{hours:g}h.txt"


def _follow_drying(workshop: Workshop) -> StepResult:
    chart = make_chart(RAMP, tones=TONES, date=FIRST_PRINT.date(), code=False)
    charts = [path.name for path in write_chart(chart, workshop.path(RAMP))]
    sheet = workshop.sheet(RAMP)
    for seed, hours in enumerate(HOURS, start=50):
        reading = workshop.print_and_measure(
            sheet, name=f"ramp after {hours:g} h", seed=seed, hours=hours, dried=hours
        )
        # The clock starts when the print leaves the printer, not with the first reading.
        workshop.write_reading(replace(reading, fields={"HOURS": f"{hours:g}"}), reading_at(hours))
    names = [reading_at(hours) for hours in HOURS]
    command = f"greyscale drying {' '.join(names)} -o {DRYING}"
    found = drying([workshop.read(name) for name in names])
    write_report(workshop.path(DRYING), drying_report(found, command))
    return StepResult(
        "Fresh ink is darker than dry ink. A small ramp, measured again and again for two days, "
        "says how long a print on this paper has to dry:",
        details=tuple(drying_sentences(found)),
        commands=(f"greyscale chart -o {RAMP} --tones {TONES} --no-code", command),
        files=(*charts, *names, f"{DRYING}/report.html"),
    )


FOLLOW_DRYING = Step("How long must a print dry?", _follow_drying)


ANALYSIS = "analysis"


def _analyse(workshop: Workshop) -> StepResult:
    command = f"greyscale analyse {READING} -o {ANALYSIS}"
    analysis = analyse(workshop.read(READING))
    write_report(workshop.path(ANALYSIS), analysis_report([analysis], command))
    return StepResult(summary(analysis), commands=(command,), files=(f"{ANALYSIS}/report.html",))


ANALYSE = Step("See where the print departs from neutral", _analyse)
