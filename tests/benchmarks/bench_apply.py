"""A picture of 100 megapixels through a correction, against the barest script that does the same.

The file is in the encoding that the correction expects already. Both run as processes of their
own; the script reads the file whole with tifffile, applies the same LUT with OpenColorIO, and
writes the whole with tifffile.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile
from support.corrections import correction_with, curve_against, printed

from greyscale.correction.folder import write_files
from tests.benchmarks.ratios import ratio, report

WIDTH, HEIGHT = 12_500, 8_000
MOST_MEMORY = 400 * 2**20

BARE = """
import sys, numpy as np, tifffile, PyOpenColorIO as ocio
lut, source, target = sys.argv[1:]
pixels = tifffile.imread(source)
transform = ocio.FileTransform(lut, interpolation=ocio.INTERP_LINEAR)
depth = ocio.BIT_DEPTH_UINT16
processor = ocio.Config.CreateRaw().getProcessor(transform).getOptimizedCPUProcessor(
    depth, depth, ocio.OPTIMIZATION_DEFAULT)
processor.applyRGB(pixels)
tifffile.imwrite(target, pixels, photometric="rgb", metadata=None)
"""


MEASURE = """
import os, subprocess, sys
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, usage = os.wait4(process.pid, 0)
assert status == 0
print(usage.ru_maxrss)
"""


def peak_memory(arguments: list[str]) -> int:
    """Run a process; give the most memory that it held, bytes.

    It is started by a small process of its own: what the starting one holds counts as well.
    """
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, *arguments], check=True, capture_output=True, text=True
    )
    return int(done.stdout) * 1024


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = tmp_path_factory.mktemp("apply")
    correction = correction_with(curve_against())
    (folder / "correction").mkdir()
    write_files(correction, folder / "correction", printed)
    row = np.linspace(0, 65535, WIDTH).astype(np.uint16)
    random = np.random.default_rng(1)
    with tifffile.TiffWriter(folder / "big.tif") as file:
        file.write(
            (
                np.roll(row, 3 * y)[:, None].repeat(3, 1) ^ random.integers(0, 64, dtype=np.uint16)
                for y in range(HEIGHT)
            ),
            shape=(HEIGHT, WIDTH, 3),
            dtype=np.uint16,
            photometric="rgb",
            rowsperstrip=1,
            metadata=None,
            resolution=(360, 360),
        )
    return folder


def commands(folder: Path) -> tuple[list[str], list[str]]:
    ours = [
        sys.executable, "-m", "greyscale", "apply", str(folder / "correction"),
        str(folder / "big.tif"), "-o", str(folder / "ours.tif"), "--encoding", "lstar",
    ]  # fmt: skip
    bare = [
        sys.executable, "-c", BARE, str(folder / "correction" / "correction-1d.cube"),
        str(folder / "big.tif"), str(folder / "bare.tif"),
    ]  # fmt: skip
    return ours, bare


def test_time_against_the_bare_script(job: Path) -> None:
    ours, bare = commands(job)
    run = {"check": True, "stdout": subprocess.DEVNULL}
    found = ratio(lambda: subprocess.run(ours, **run), lambda: subprocess.run(bare, **run), 3)
    report("apply to 100 megapixels of 16-bit RGB, against bare script", found, 2)
    mine, theirs = (
        tifffile.memmap(job / name, mode="r")[::97] for name in ("ours.tif", "bare.tif")
    )
    assert np.abs(mine.astype(int) - theirs).max() <= 2


def test_memory(job: Path) -> None:
    ours, _ = commands(job)
    peak = peak_memory(ours)
    print(f"\napply to 100 megapixels: peak memory {peak / 2**20:.0f} MiB   (limit 400)")
    assert peak <= MOST_MEMORY
