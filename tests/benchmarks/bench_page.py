"""The page: first view after the start, a dropped reading, a changed choice, and its memory."""

from __future__ import annotations

import itertools
import urllib.request
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from support.page import client_of, page_of

from greyscale.aims.neutral import NEUTRAL_AIMS, presets
from greyscale.aims.tone import TONE_AIMS
from greyscale.page.choices import FORETOLD
from greyscale.readings.iso28178 import write
from tests.benchmarks.inputs import chart, ramp
from tests.benchmarks.ratios import hold_memory, hold_ratio, process

IMPORT = "`import colour`"
COLOUR = process(["-c", "import colour"])

FIFTY = """
import sys
sys.path[:0] = {path!r}
from pathlib import Path
from support.page import client_of
client = client_of(Path({root!r}))
for choices in {choices!r}:
    assert client.get("/paper/cotton/predicted?" + choices).status_code == 200
    assert client.get("/paper/cotton?" + choices).status_code == 200
"""


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A folder with one paper, measured."""
    (tmp_path / "cotton").mkdir()
    write(chart(150), tmp_path / "cotton" / "chart.txt")
    return tmp_path


def choices() -> list[str]:
    """Fifty different ones, each with another correction, two of three for other lights."""
    aims = [aim for aim in TONE_AIMS if aim != "density"]
    every = itertools.product(aims, NEUTRAL_AIMS, ("", *presets()))
    lights = itertools.cycle(("", "LED-B1", "LED-B3,D50%3D2"))
    return [
        f"aim={aim}&neutral={ab}&toning={toning}&made_for={some}"
        for (aim, ab, toning), some in zip(every, lights, strict=False)
    ][:50]


def test_first_view(root: Path) -> None:
    def work() -> None:
        with page_of(root) as address:
            opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
            assert b"mean" in opener.open(address).read()

    hold_ratio("page, from the start to the first view", work, IMPORT, COLOUR, 1.5, 5)


def test_dropped_reading(root: Path, tmp_path: Path) -> None:
    client, numbers = client_of(root), itertools.count()
    bare = replace(ramp(51), spectra=None, wavelengths=None)

    def work() -> None:
        given = tmp_path / f"{next(numbers)}.txt"
        write(bare, given)
        files = {"file": (given.name, given.read_bytes())}
        there = client.post("/paper/cotton/add", files=files).headers["location"]
        assert "tolerance" in client.get(there).text

    work()
    hold_ratio("page, verdict of a dropped CIELAB reading", work, IMPORT, COLOUR, 0.6)


def test_changed_choice(root: Path) -> None:
    """The ramp, measured and foretold, and a picture through the correction that is foretold."""
    rows, columns = np.mgrid[0:1:2000j, 0:1:3000j]
    grey = (65535 * (0.5 + 0.3 * np.sin(9 * rows * columns) + 0.2 * columns)).clip(0, 65535)
    tifffile.imwrite(root / "cotton" / "fog.tif", grey.astype(np.uint16))
    client, chosen = client_of(root), itertools.cycle(choices())
    picture = "picture=fog.tif&encoding=lstar"

    def work() -> None:
        asked = f"{next(chosen)}&{picture}"
        drawn = f"/paper/cotton/picture/fog.tif/after.png?correction={FORETOLD}&{asked}"
        for address in (f"/paper/cotton?{asked}", f"/paper/cotton/predicted?{asked}", drawn):
            assert client.get(address).status_code == 200

    work()
    hold_ratio("page, ramp and picture redrawn for a choice", work, IMPORT, COLOUR, 0.5, 15)


def test_memory_after_fifty_corrections(root: Path) -> None:
    here = Path(__file__).parents[1]
    script = FIFTY.format(path=[str(here), str(here.parent)], root=str(root), choices=choices())
    hold_memory("page, fifty corrections foretold and shown", ["-c", script], 400 * 2**20)
