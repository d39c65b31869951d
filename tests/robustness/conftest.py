"""What the tests of full disks, kills and crowds share: a place with readings, and a runner."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import tifffile
from fuzz import page, seeds
from support.corrections import correction_with, curve_against, printed, proof_of
from support.logged import MEASURED, reading_file
from support.misreading import chart_layout, clean_reading
from support.runner import Runner

from greyscale.correction.folder import write_files
from greyscale.demo.printer import demo_printer
from greyscale.demo.workshop import strip_read_backwards
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import write_layout
from greyscale.records.add_reading import WITHOUT, add_readings
from greyscale.records.exchange import export_json
from greyscale.records.print_log import migrate, migrations, open_log


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


@pytest.fixture(scope="session")
def _more(_inputs: Path, tmp_path_factory) -> Path:
    """The same, and what the further commands read."""
    folder = Path(shutil.copytree(_inputs, tmp_path_factory.mktemp("more") / "work"))
    layout = chart_layout(0, 17, False)
    write_layout(layout, folder / "chart.txt")
    wavelengths = np.arange(380.0, 731.0, 10.0)
    two_columns = "\n".join(f"{w},{0.9:.3f}" for w in wavelengths)
    (folder / "bare.csv").write_text(two_columns)
    (folder / "glass.csv").write_text(two_columns)
    for number in (1, 2):
        mixed = strip_read_backwards(clean_reading(layout, number), "A")
        write(mixed, folder / f"mixed-{number}.txt")
        (folder / f"typed-{number}.txt").write_text(_typed(number))
        pixels = np.full((40, 1200), 9000 * number, dtype=np.uint16)
        tifffile.imwrite(folder / f"wide-{number}.tif", pixels, metadata=None)
        through = 0.7 + 0.05 * number
        rows = "\n".join(f"{w},{0.9 * through**2:.4f}" for w in wavelengths)
        (folder / f"behind-{number}.csv").write_text(rows)
        body = f"patch={number}&text={15 + 40 * (number - 1)} 0 {number}&values=lab&doubted="
        (folder / f"typed-{number}.http").write_bytes(
            page.post("/paper/kozo/type/chart-1", body=body.encode())
        )
        with open_log(folder / f"trend-{number}.sqlite3", write=True) as log:
            for day in range(4):
                moved = 0.1 * day * number
                later = MEASURED + timedelta(days=day)
                file = reading_file(folder, 10 + day, a=moved, created=later)
                add_readings(log, file, through=WITHOUT)
                file.unlink()
        with open_log(folder / f"log-{number}.sqlite3") as log:
            export_json(log, folder / f"log-{number}.json")
        with closing(sqlite3.connect(folder / f"log-{number}.sqlite3")) as log, log:
            # Old enough to be backed up by whoever adds to it.
            log.execute("UPDATE entries SET added = '2020-01-01T00:00:00+00:00'")
    (folder / "upload.http").write_bytes(page.upload("new.txt", seeds.ramps()[1], ""))
    (folder / "refused.http").write_bytes(page.upload("new.txt", b"no reading", ""))
    (folder / "printed.http").write_bytes(page.post("/paper/kozo/printed", body=b"sheet=chart-1"))
    (folder / "paper.http").write_bytes(page.post("/papers", body=b"name=baryta"))
    page.made_in(folder / "studio")
    for name in ("chart.txt", "drying-ramp.txt", "first-reading.txt", "lighthouse.tif", "old.txt"):
        (folder / "shown").mkdir(exist_ok=True)
        (folder / "shown" / name).write_text("an earlier demo's")
    with closing(sqlite3.connect(folder / "older.sqlite3", isolation_level=None)) as log:
        migrate(log, "older.sqlite3", migrations()[:2])
    (folder / ".bashrc").write_text("# a person's\n" * 9)
    (folder / "tmp").mkdir()
    return folder


def _typed(number: int) -> str:
    """What is typed of the first patches of a chart."""
    return f"{20 + number} 0 0\n\ns\n{22 + number} 0.2 0\n\nq\n"


@pytest.fixture
def more(_more: Path, tmp_path: Path) -> Path:
    """A folder with a copy of all inputs, to work in, and a place for what is temporary."""
    return Path(shutil.copytree(_more, tmp_path / "work"))


@pytest.fixture(scope="session")
def breaker(runner: Runner) -> Runner:
    """A runner whose commands can be killed, or find the disk full, at each change."""
    if runner.faults is None:
        pytest.skip("there is no compiler here")
    return runner


@pytest.fixture
def work(_inputs: Path, tmp_path: Path) -> Path:
    """A folder with a copy of the inputs, to work in."""
    return Path(shutil.copytree(_inputs, tmp_path / "work"))
