"""`greyscale correct --icc` and `--amend`: profiles beside the LUTs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from support.invoked import invoke, refused
from support.lab_printers import random_printer
from support.little_cms import LAB_DOUBLE, RGB_16, RGB_DOUBLE, convert
from support.output_profiles import output_profile, relative

from greyscale.charts.chart import make_chart
from greyscale.correction.folder import read_correction
from greyscale.icc.profile import profile_bytes
from greyscale.readings.iso28178 import write

PRINTER = random_printer(5, largest_cast=4.0)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("profiles")
    chart = make_chart("chart", near_neutral=True, code=False)
    reading = PRINTER.measure(chart.layout.ids, chart.layout.device, name="cotton rag", noise=0.15)
    write(reading, folder / "reading.txt")
    before = profile_bytes(output_profile(PRINTER.lab, 3.0, points=17))
    (folder / "printer.icc").write_bytes(before)
    asked = ("--icc", "link", "--icc", "grey", "--amend", folder / "printer.icc")
    result = invoke("correct", folder / "reading.txt", "-o", folder / "made", *asked, code=0)
    assert "Amended profile" in result.output
    return folder


def test_the_link_is_the_corrections_curve(made: Path) -> None:
    curve = read_correction(made / "made").curve
    ramp = np.repeat(np.linspace(0, 1, 256)[:, None], 3, axis=1)
    for name in ("link-v4.icc", "link-v2.icc"):
        data = (made / "made" / name).read_bytes()
        sent = convert(np.round(ramp * 65535), data, None, RGB_16, RGB_16, link=True) / 65535
        assert np.abs(sent - curve.apply(ramp)).max() < 1e-3


def test_the_amended_profile_prints_neutral(made: Path) -> None:
    greys = np.stack([np.linspace(40, 96, 57), np.zeros(57), np.zeros(57)], axis=1)

    def cast(path: Path) -> float:
        sent = convert(greys, None, path.read_bytes(), LAB_DOUBLE, RGB_DOUBLE)
        return float(np.hypot(*relative(PRINTER.lab)(sent)[:, 1:].T).mean())

    assert cast(made / "printer.icc") > 1.5
    assert cast(made / "made" / "amended.icc") < 0.6


def test_a_second_run_replaces_its_own_profiles_and_keeps_other_files(made: Path) -> None:
    mine = made / "made" / "note.txt"
    mine.write_text("third tray")
    asked = ("-o", made / "made", "--icc", "grey", "--replace")
    invoke("correct", made / "reading.txt", *asked, code=0)
    assert mine.read_text() == "third tray"
    assert (made / "made" / "grey-v4.icc").exists()
    assert not (made / "made" / "amended.icc").exists()


@pytest.mark.parametrize(
    ("content", "message"),
    [(b"not a profile", "not an ICC profile"), (b"", "the file is empty")],
)
def test_a_profile_that_is_none_leaves_nothing_behind(
    made: Path, tmp_path: Path, content: bytes, message: str
) -> None:
    bad = tmp_path / "bad.icc"
    bad.write_bytes(content)
    target = tmp_path / "out"
    assert message in refused("correct", made / "reading.txt", "-o", target, "--amend", bad)
    assert not (tmp_path / "out").exists()
