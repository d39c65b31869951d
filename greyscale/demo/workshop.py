"""What the demo's steps share: a folder, a printer, and how a step tells what it did."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from greyscale.demo.printer import SimulatedPrinter

FIRST_PRINT = datetime(2024, 3, 4, 17, 30)
"""When the demo's first chart leaves the printer: fixed, so that every run writes the same."""


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

    @staticmethod
    def measured_at(hours: float) -> datetime:
        """Give the date and time so many hours after the first print."""
        return FIRST_PRINT + timedelta(hours=hours)


@dataclass(frozen=True)
class Told:
    """What a step did.

    Attributes
    ----------
    text
        A few sentences for a reader who prints.
    commands
        What one would type in the job's folder to do the same; () where the simulated printer
        stands in for a real one.
    files
        What it wrote, by name in the job's folder.
    """

    text: str
    commands: tuple[str, ...] = ()
    files: tuple[str, ...] = ()


@dataclass(frozen=True)
class Step:
    """One step of the job: its title, and what it does."""

    title: str
    run: Callable[[Workshop], Told]
