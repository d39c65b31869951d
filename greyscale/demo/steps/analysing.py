"""The demo's look at a print: where it departs from neutral, and under which light."""

from __future__ import annotations

from greyscale.analysis.analyse import analyse
from greyscale.demo.workshop import READING, Step, Told, Workshop
from greyscale.readings.formats import read
from greyscale.reporting.analysis_report import write_analysis_report
from greyscale.reporting.words import summary

REPORT = "analysis"


def _analyse(workshop: Workshop) -> Told:
    command = f"greyscale analyse {READING} -o {REPORT}"
    analysis = analyse(read(workshop.path(READING)))
    write_analysis_report([analysis], workshop.path(REPORT), command=command)
    return Told(summary(analysis), commands=(command,), files=(f"{REPORT}/report.html",))


ANALYSE = Step("See where the print departs from neutral", _analyse)
