"""The demo's printing: what the simulated printer and instrument stand in for."""

from __future__ import annotations

from greyscale.demo.samples import SAMPLES, sample_chart
from greyscale.demo.workshop import Step, Told, Workshop
from greyscale.readings.iso28178 import write


def _print_and_read(workshop: Workshop) -> Told:
    chart = sample_chart(SAMPLES[0])
    reading = workshop.printer.measure(
        [str(number) for number in range(1, len(chart) + 1)],
        chart.device,
        name="starting chart on cotton rag",
        seed=1,
        created=workshop.measured_at(24),
    )
    write(reading, workshop.path("reading.txt"))
    return Told(
        f"A starting chart of {len(chart)} patches is printed without colour management, lies for "
        "a day to dry, and is measured in M1. (Simulated: your printer and instrument do this.)",
        files=("reading.txt",),
    )


PRINT_AND_READ = Step("Print a chart of greys and measure it", _print_and_read)
