"""What the demo's steps share: a folder, a printer, and how a step tells what it did."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from greyscale.demo.instrument import as_exported
from greyscale.demo.printer import SimulatedPrinter
from greyscale.demo.sheet import values_on_sheet
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import read_layout
from greyscale.readings.reading import Reading

FIRST_PRINT = datetime(2024, 3, 4, 17, 30)
"""When the demo's first chart leaves the printer: fixed, so that every run writes the same."""


READING = "reading.txt"
"""The checked reading of the starting chart: what the later steps start from."""


def measured_at(hours: float) -> datetime:
    """Give the date and time so many hours after the first print."""
    return FIRST_PRINT + timedelta(hours=hours)


@dataclass(frozen=True)
class Workshop:
    """Where the demo's job happens. Steps pass their work on as files in the folder.

    Attributes
    ----------
    folder
        Everything is written here.
    printer
        The simulated printer on the job's paper.
    """

    folder: Path
    printer: SimulatedPrinter

    def path(self, name: str) -> Path:
        """Give the path of a file of this job."""
        return self.folder / name

    def print_and_measure(
        self,
        chart: str,
        *,
        name: str,
        seed: int,
        hours: float,
        dried: float = 24.0,
    ) -> Reading:
        """Print a chart of the folder and measure it: what its TIFF holds, not its layout.

        Parameters
        ----------
        chart
            The chart's name, without ending.
        name
            What the reading is called, after the paper.
        seed
            Of the instrument's noise.
        hours
            When it is measured, after the first print.
        dried
            How many hours it has dried by then.
        """
        layout = read_layout(self.path(f"{chart}.txt"))
        return self.printer.measure(
            layout.ids,
            layout.device,
            sent=values_on_sheet(self.path(chart), layout),
            places=layout.places,
            name=f"{self.printer.paper.name}, {name}",
            seed=seed,
            hours=dried,
            created=measured_at(hours),
        )

    def write_reading(self, reading: Reading, name: str) -> None:
        """Write a reading into the folder, as an instrument would export it."""
        write(as_exported(reading), self.path(name))


@dataclass(frozen=True)
class Told:
    """What a step did.

    Attributes
    ----------
    text
        A few sentences for a reader who prints.
    details
        More to say, each on a line of its own.
    commands
        What one would type in the job's folder to do the same; () where the simulated printer
        stands in for a real one.
    files
        What it wrote, by name in the job's folder.
    """

    text: str
    details: tuple[str, ...] = ()
    commands: tuple[str, ...] = ()
    files: tuple[str, ...] = ()


@dataclass(frozen=True)
class Step:
    """One step of the job: its title, and what it does."""

    title: str
    run: Callable[[Workshop], Told]
