"""What the demo's steps share: a folder, a printer, and how a step tells what it did."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from greyscale.charts.chart import chart_files
from greyscale.charts.page import grid_from_fields
from greyscale.colorimetry.arrays import Array
from greyscale.demo.printer import SimulatedPrinter
from greyscale.readings.formats import read
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import Layout, read_layout
from greyscale.readings.reading import Reading

# What the simulated printer is given: the values in a chart's TIFF, patch by patch.

_FULL = 65535.0


def values_on_sheet(stem: Path, layout: Layout) -> Array:
    """Return the device values in the middle of each patch of a chart's pages.

    Parameters
    ----------
    stem
        The chart's path without an ending.
    layout
        The chart's layout, which tells where its patches are.

    Returns
    -------
    Array of shape (n, 3), 0 to 1.
    """
    import tifffile

    grid = grid_from_fields(layout.fields, len(layout))
    paths = chart_files(stem, grid.pages)[: grid.pages]
    pages = [np.asarray(tifffile.imread(path)) for path in paths]
    boxes = [(grid.page_of(index), grid.box(index)) for index in range(len(layout))]
    codes = [
        pages[page][(box.top + box.bottom) // 2, (box.left + box.right) // 2] for page, box in boxes
    ]
    return np.asarray(codes, dtype=np.float64) / _FULL


# What a simulated instrument's file holds: few digits, and now and then a person's mistake.

_DIGITS_OF_SPECTRA = 5
_DIGITS_OF_LAB = 3


def as_exported(reading: Reading) -> Reading:
    """Return a reading with the digits that an instrument's file has, CIELAB from those.

    Raises
    ------
    ValueError
        If the reading has no spectra.
    """
    if reading.spectra is None:
        raise ValueError("the simulated instrument measures spectra")
    rounded = replace(reading, spectra=np.round(reading.spectra, _DIGITS_OF_SPECTRA))
    return replace(rounded, lab=np.round(rounded.lab_under("D50"), _DIGITS_OF_LAB))


def strip_read_backwards(reading: Reading, strip: str) -> Reading:
    """Return the reading as it is when a strip was drawn through from its wrong end.

    The file names the patches in the order of the chart; what was measured stands reversed.

    Raises
    ------
    ValueError
        If the reading has no such strip.
    """
    places = reading.places or ()
    rows = np.array([i for i, place in enumerate(places) if place.rstrip("0123456789") == strip])
    if not rows.size:
        raise ValueError(f"the reading has no strip {strip}")
    order = np.arange(len(reading))
    order[rows] = rows[::-1]
    measured = reading.select(order)
    return replace(measured, ids=reading.ids, device=reading.device, places=reading.places)


FIRST_PRINT = datetime(2024, 3, 4, 17, 30)
"""When the demo's first chart leaves the printer: fixed, so that every run writes the same."""


READING = "reading.txt"
"""The checked reading of the starting chart: what the later steps start from."""


def measured_at(hours: float) -> datetime:
    """Return the date and time so many hours after the first print."""
    return FIRST_PRINT + timedelta(hours=hours)


@dataclass(frozen=True)
class Workshop:
    """Where the demo's job happens. Steps pass their work on as files in the folder."""

    folder: Path
    printer: SimulatedPrinter

    def path(self, name: str) -> Path:
        """Return the path of a file of this job."""
        return self.folder / name

    def read(self, name: str) -> Reading:
        """Read a reading of this job."""
        return read(self.path(name))

    def sheet(self, chart: str) -> tuple[Layout, Array]:
        """Print a chart of the folder: its layout, and the values that its TIFF holds, (n, 3)."""
        layout = read_layout(self.path(f"{chart}.txt"))
        return layout, values_on_sheet(self.path(chart), layout)

    def print_and_measure(
        self,
        chart: str | tuple[Layout, Array],
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
            The chart's name, without ending; or its `sheet`, which may be measured again.
        name
            What the reading is called, after the paper.
        seed
            Of the instrument's noise.
        hours
            When it is measured, after the first print.
        dried
            How many hours it has dried by then.
        """
        layout, sent = self.sheet(chart) if isinstance(chart, str) else chart
        return self.printer.measure(
            layout.ids,
            layout.device,
            sent=sent,
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
class StepResult:
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
    run: Callable[[Workshop], StepResult]
