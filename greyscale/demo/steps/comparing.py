"""The demo's choice of a paper: three of them under the lights of the halls to come."""

from __future__ import annotations

import numpy as np

from greyscale.analysis.comparison import ComparisonOptions
from greyscale.base.files import write_whole
from greyscale.charts.chart import make_chart, write_chart
from greyscale.colorimetry.arrays import Array
from greyscale.correction.charts import choose_patches
from greyscale.correction.corrected_papers import compare_papers
from greyscale.demo.printer import demo_printer
from greyscale.demo.workshop import Step, StepResult, Workshop, measured_at
from greyscale.readings.lamps import find_light
from greyscale.readings.layout import Layout
from greyscale.reporting.comparison_report import comparison_report, comparison_sentences
from greyscale.reporting.html import write_report
from greyscale.reporting.next_step import TypedComparison

PAPERS = ("cotton rag", "baryta", "unbleached cotton")
CONDITIONS = ("M1", "M2")
CHART, PATCHES = "paper-chart", 48
REPORT = "papers"

COOL_LED = "cool-led.csv"
LIGHTS = (
    ("window daylight", "daylight-5500K"),
    ("halogen", "blackbody-3000K"),
    ("warm LED", "LED-B1"),
    ("cool LED with a blue peak, as measured in the hall", COOL_LED),
)
"""What hangs in the halls, and how it is called at the command line."""


def cool_led() -> tuple[Array, Array]:
    """Invent a cool white LED: a narrow blue peak, a broad yellow one; nm, relative power."""
    nm = np.arange(360.0, 781.0, 2.0)
    blue = np.exp(-0.5 * ((nm - 447) / np.where(nm < 447, 8.5, 10.5)) ** 2)
    yellow = 0.46 * np.exp(-0.5 * ((nm - 556) / np.where(nm < 556, 42.0, 62.0)) ** 2)
    return nm, blue + yellow


def _compare(workshop: Workshop) -> StepResult:
    nm, power = cool_led()
    rows = "\n".join(f"{w:.0f},{p:.5f}" for w, p in zip(nm, power, strict=True))
    write_whole(workshop.path(COOL_LED), f"wavelength (nm),relative power\n{rows}\n")
    chart = make_chart(
        CHART, chosen=choose_patches(PATCHES), code=False, date=measured_at(6.0).date()
    )
    charts = tuple(path.name for path in write_chart(chart, workshop.path(CHART)))
    files = _measure_papers(workshop, chart.layout)
    # The lamp's file is read from the folder, and called by its own name like the others.
    lights = tuple(
        find_light(str(workshop.path(name)) if name == COOL_LED else name) for _, name in LIGHTS
    )
    readings = [workshop.read(name) for name in files]
    comparison = compare_papers(readings, ComparisonOptions(lights=lights))
    options = [word for _, name in LIGHTS for word in ("--light", name)]
    command = f"greyscale compare {' '.join([*files, *options])} -o {REPORT}"
    typed = TypedComparison(tuple(options), tuple(files))
    write_report(workshop.path(REPORT), comparison_report(comparison, command, typed))
    return StepResult(
        f"A small chart, {PATCHES} patches where they tell most, is printed on each paper and read "
        "in M1 and in M2. " + " ".join(comparison_sentences(comparison)),
        details=tuple(f"{name}: {hall}" for hall, name in LIGHTS),
        commands=(f"greyscale chart -o {CHART} --patches {PATCHES}", command),
        files=(COOL_LED, *charts, *files, f"{REPORT}/report.html"),
    )


def _measure_papers(workshop: Workshop, chart: Layout) -> tuple[str, ...]:
    """Print the chart on each paper, and read it in M1 and M2."""
    files = []
    for order, paper in enumerate(PAPERS):
        for condition in CONDITIONS:
            reading = demo_printer(paper).measure(
                chart.ids,
                chart.device,
                places=chart.places,
                name=f"{paper}, {condition}",
                condition=condition,
                seed=20 + order,
                created=measured_at(30.0),
            )
            name = f"{paper.replace(' ', '-')}-{condition.lower()}.txt"
            workshop.write_reading(reading, name)
            files.append(name)
    return tuple(files)


COMPARE = Step("Choose a paper for the halls' light", _compare)
