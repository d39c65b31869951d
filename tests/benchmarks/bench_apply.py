"""A picture of 100 megapixels through a correction, against the barest script that does the same.

The file is in the encoding that the correction expects already. Both run as processes of their
own; the script reads the file whole with tifffile, applies the same LUT with OpenColorIO, and
writes the whole with tifffile. Both write a file that is not there yet: over an earlier one the
script would write into its pages, and `apply`, which keeps it until the new one is whole, could
not. Half of a run's time is the system's, for pages of memory: less where the machine has given
them to a process before, so that runs differ by half and the shortest of seven is taken.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import tifffile

from tests.benchmarks.inputs import correction_folder, picture
from tests.benchmarks.ratios import hold_memory, hold_ratio, process

WHAT = "apply, 100 megapixels of 16-bit RGB"
MOST_MEMORY = 400 * 2**20

BARE = """
import sys, numpy as np, tifffile, PyOpenColorIO as ocio
lut, source, target = sys.argv[1:]
pixels = tifffile.imread(source)
transform = ocio.FileTransform(lut, interpolation=ocio.INTERP_LINEAR)
depth = ocio.BIT_DEPTH_UINT16
processor = ocio.Config.CreateRaw().getProcessor(transform).getOptimizedCPUProcessor(
    depth, depth, ocio.OPTIMIZATION_DEFAULT)
# `applyRGB` would take five times as long.
rows, columns, channels = pixels.shape
processor.apply(ocio.PackedImageDesc(pixels, columns, rows, channels, depth, 2, 6, 6 * columns))
tifffile.imwrite(target, pixels, photometric="rgb", metadata=None)
"""


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("apply")
    correction_folder(folder / "correction")
    picture(folder / "big.tif", 12_500, 8_000)
    return folder


def anew(target: Path, arguments: list[str]) -> Callable[[], object]:
    run = process(arguments)

    def work() -> None:
        target.unlink(missing_ok=True)
        run()

    return work


def ours(folder: Path) -> list[str]:
    return [
        "-m", "greyscale", "apply", str(folder / "correction"), str(folder / "big.tif"),
        "-o", str(folder / "ours.tif"), "--encoding", "lstar", "--replace",
    ]  # fmt: skip


def test_time_against_the_bare_script(job: Path) -> None:
    cube = job / "correction" / "correction-1d.cube"
    script = ["-c", BARE, str(cube), str(job / "big.tif"), str(job / "bare.tif")]
    bare, own = anew(job / "bare.tif", script), anew(job / "ours.tif", ours(job))
    hold_ratio(WHAT, own, "bare script", bare, 1.3)
    mine, theirs = (
        tifffile.memmap(job / name, mode="r")[::97] for name in ("ours.tif", "bare.tif")
    )
    assert np.abs(mine.astype(int) - theirs).max() <= 2


def test_memory(job: Path) -> None:
    hold_memory(WHAT, ours(job), MOST_MEMORY)
