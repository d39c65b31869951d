"""What the tests of full disks, kills and crowds share: a place with readings, and a runner."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import tifffile
from support.corrections import correction_with, curve_against, printed, proof_of
from support.logged import reading_file
from support.runner import Runner

from greyscale.correction.folder import write_files
from greyscale.demo.printers import demo_printer
from greyscale.readings.iso28178 import write
from greyscale.records.add_reading import add_readings
from greyscale.records.print_log import open_log


@pytest.fixture(scope="session")
def runner():
    with Runner() as one:
        yield one


@pytest.fixture(scope="session")
def _inputs(tmp_path_factory) -> Path:
    """Two of everything that a command reads, so that a second result differs from the first."""
    folder = tmp_path_factory.mktemp("inputs")
    device = np.repeat(np.linspace(0, 1, 11)[:, np.newaxis], 3, axis=1)
    ids = [str(i) for i in range(11)]
    for number, paper in enumerate(("cotton rag", "baryta"), start=1):
        reading_file(folder, number, a=float(number))
        for hours in (1, 24):
            measured = demo_printer(paper).measure(ids, device, hours=hours, seed=number)
            write(measured, folder / f"{hours}h-{number}.txt")
        correction = correction_with(curve_against(0.2 * number), name=f"c{number}")
        (folder / f"correction-{number}").mkdir()
        write_files(correction, folder / f"correction-{number}", printed, lut_size=9)
        write(proof_of(correction), folder / f"proof-{number}.txt")
        pixels = np.full((40, 60, 3), 9000 * number, dtype=np.uint16)
        pixels += np.random.default_rng(number).integers(0, 9000, pixels.shape, dtype=np.uint16)
        tifffile.imwrite(folder / f"fog-{number}.tif", pixels, photometric="rgb", metadata=None)
        with open_log(folder / f"log-{number}.sqlite3", write=True) as log:
            add_readings(log, folder / f"reading-{number}.txt")
    return folder


@pytest.fixture
def work(_inputs: Path, tmp_path: Path) -> Path:
    """A folder with a copy of the inputs, to work in."""
    return Path(shutil.copytree(_inputs, tmp_path / "work"))
