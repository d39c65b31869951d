"""The demo's drying: how long a print on this paper must lie before it can be measured."""

from __future__ import annotations

from dataclasses import replace

from greyscale.analysis.drying import drying
from greyscale.charts.chart import make_chart, write_chart
from greyscale.demo.workshop import FIRST_PRINT, Step, Told, Workshop
from greyscale.readings.formats import read
from greyscale.reporting.drying_report import write_drying_report
from greyscale.reporting.drying_words import drying_sentences

RAMP = "drying-ramp"
TONES = 13
HOURS = (0.2, 0.7, 1.5, 3.0, 6.0, 24.0, 48.0)
REPORT = "drying"


def reading_at(hours: float) -> str:
    """Name the file of the reading so many hours after printing."""
    return f"{RAMP}-{hours:g}h.txt"


def _follow_drying(workshop: Workshop) -> Told:
    chart = make_chart(RAMP, tones=TONES, date=FIRST_PRINT.date(), code=False)
    charts = [path.name for path in write_chart(chart, workshop.path(RAMP))]
    for seed, hours in enumerate(HOURS, start=50):
        reading = workshop.print_and_measure(
            RAMP, name=f"ramp after {hours:g} h", seed=seed, hours=hours, dried=hours
        )
        # The clock starts when the print leaves the printer, not with the first reading.
        workshop.write_reading(replace(reading, fields={"HOURS": f"{hours:g}"}), reading_at(hours))
    names = [reading_at(hours) for hours in HOURS]
    command = f"greyscale drying {' '.join(names)} -o {REPORT}"
    found = drying([read(workshop.path(name)) for name in names])
    write_drying_report(found, workshop.path(REPORT), command=command)
    return Told(
        "Fresh ink is darker than dry ink. A small ramp, measured again and again for two days, "
        "says how long a print on this paper has to dry:",
        details=tuple(drying_sentences(found)),
        commands=(f"greyscale chart -o {RAMP} --tones {TONES} --no-code", command),
        files=(*charts, *names, f"{REPORT}/report.html"),
    )


FOLLOW_DRYING = Step("How long must a print dry?", _follow_drying)
