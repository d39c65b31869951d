"""The demo's printing and measuring: here the simulated printer and instrument stand in."""

from __future__ import annotations

from greyscale.demo.instrument import strip_read_backwards
from greyscale.demo.steps.charting import CHART
from greyscale.demo.workshop import Step, Told, Workshop

FIRST_READING = "first-reading.txt"
MISREAD_STRIP = "C"


def _print_and_measure(workshop: Workshop) -> Told:
    reading = workshop.print_and_measure(CHART, name="starting chart", seed=1, hours=24.0)
    workshop.write_reading(strip_read_backwards(reading, MISREAD_STRIP), FIRST_READING)
    return Told(
        "The chart goes to the printer without colour management, dries for a day and is measured "
        "strip by strip, spectra, M1. (In the demo the printer and the instrument are "
        f"simulated, and so is a slip of the hand: strip {MISREAD_STRIP} is drawn through from "
        "its wrong end, and nobody notices.)",
        files=(FIRST_READING,),
    )


PRINT_AND_MEASURE = Step("Print it, let it dry, measure it", _print_and_measure)
