"""`greyscale preview` as a person runs it, on the demo's printer."""

from __future__ import annotations

import re

import numpy as np
import pytest
from PIL import Image
from support.corrections import correction_with, curve_against, printed
from support.invoked import invoke
from support.picture_files import codes, gamma_profile, tiff

from greyscale.base.errors import BadInput
from greyscale.correction.folder import write_files
from greyscale.demo.picture import lighthouse_picture
from greyscale.demo.printer import demo_printer
from greyscale.readings.iso28178 import write


def run(*arguments):
    return " ".join(invoke("preview", *arguments, code=0).output.split())


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    """A reading, a picture with a profile, a correction for the same print."""
    folder = tmp_path_factory.mktemp("preview")
    levels = np.linspace(0, 1, 21)
    reading = demo_printer("cotton rag").measure(
        [str(i) for i in range(21)], np.repeat(levels[:, np.newaxis], 3, axis=1), name="ramp"
    )
    write(reading, folder / "ramp.txt")
    picture = np.round(lighthouse_picture(600) * 65535).astype(np.uint16)
    tiff(folder / "lighthouse.tif", picture, iccprofile=gamma_profile(1, 2.2))
    (folder / "correction").mkdir()
    same = {
        "printer": reading.printer, "paper": reading.paper,
        "condition": reading.condition, "backing": reading.backing,
    }  # fmt: skip
    made = correction_with(curve_against(), name="Harbour light", **same)
    write_files(made, folder / "correction", printed)
    return folder


def test_without_a_correction_it_shows_the_aim_beside_the_print(job, tmp_path):
    said = run(job / "ramp.txt", job / "lighthouse.tif", "-o", tmp_path / "p.png")
    assert "under D50. as aimed: over this picture, mean ΔCh 0.00" in said
    assert "as it prints: over this picture, mean ΔCh" in said
    assert "greenish" in said
    with Image.open(tmp_path / "p.png") as image:
        assert image.width < 2700
        assert "icc_profile" in image.info


def test_before_and_after_under_a_lamp_with_casts_enlarged_and_mapped(job, tmp_path):
    arguments = (
        job / "ramp.txt", job / "lighthouse.tif", "--correction", job / "correction",
        "--light", "A", "--exaggerate", 4,
    )  # fmt: skip
    said = run(*arguments, "-o", tmp_path / "p.png")
    assert "under A; correction 'Harbour light'; casts drawn 4 times as strong as they are" in said
    assert "before: over this picture" in said
    assert "after, as predicted: over this picture" in said
    # What is uncertain is counted in: no figure of a print yet to come is better than the promise.
    (promised,) = re.findall(r"Over the whole scale (\S+) is expected", said)
    (after,) = re.findall(r"after, as predicted: over this picture, mean ΔCh (\S+),", said)
    assert promised == "0.20"
    assert float(after) > 0.05
    run(*arguments, "--casts", "-o", tmp_path / "map.png")
    with Image.open(tmp_path / "p.png") as plain, Image.open(tmp_path / "map.png") as mapped:
        assert mapped.height > 1.7 * plain.height


def test_what_cannot_be_shown_is_refused(job, tmp_path):
    ramp, picture, out = job / "ramp.txt", job / "lighthouse.tif", tmp_path / "p.png"
    plain = tiff(tmp_path / "plain.tif", codes((9, 9), "uint16"))
    for arguments, message in [
        ((ramp, plain, "-o", out), "give --encoding: srgb, as pictures"),
        ((ramp, picture, "-o", tmp_path / "p.jpg"), "a preview is a PNG"),
        ((ramp, picture, "-o", picture), "this is an input"),
        ((ramp, picture, "--exaggerate", "0.5", "-o", out), "0.5 is not from 1"),
        ((ramp, picture, "--light", "candle", "-o", out), "candle"),
        ((ramp, picture, "--aim", "density", "-o", out), "encoding 'density' is not known"),
        (
            (ramp, picture, "--correction", job / "correction", "--aim", "srgb", "-o", out),
            "the correction has its own aims",
        ),
    ]:
        with pytest.raises(BadInput, match=message):
            run(*arguments)
    assert not out.exists()


def test_a_reading_of_another_print_is_refused(job, tmp_path):
    from dataclasses import replace

    from greyscale.readings.formats import read

    other = replace(read(job / "ramp.txt"), condition="M2")
    write(other, tmp_path / "m2.txt")
    with pytest.raises(BadInput, match="measuring condition is 'M2'"):
        run(
            tmp_path / "m2.txt", job / "lighthouse.tif", "--correction", job / "correction",
            "-o", tmp_path / "p.png",
        )  # fmt: skip
