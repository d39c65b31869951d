"""`greyscale chart` as a person runs it."""

import shutil
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import tifffile
from support.invoked import invoke

from greyscale.base.errors import BadInput
from greyscale.demo.printer import demo_printer
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import read_layout

SAMPLES = Path(__file__).parents[2] / "sample_measurements"
READING = SAMPLES / "cotton-rag-33-m1.txt"


_run = partial(invoke, "chart")


@pytest.fixture
def fog(tmp_path):
    path = tmp_path / "fog.tif"
    picture = np.random.default_rng(0).normal(0.3, 0.04, (120, 160)).clip(0, 1)
    tifffile.imwrite(path, np.round(picture * 65535).astype(np.uint16))
    return path


def test_a_chart_is_a_tiff_a_pdf_and_a_layout_and_it_says_what_to_do(tmp_path):
    result = _run("-o", tmp_path / "start", "--near-neutral", "--dpi", 100)
    assert result.exit_code == 0
    assert {path.name for path in tmp_path.iterdir()} == {"start.tif", "start.pdf", "start.txt"}
    for words in (
        "159 patches: 33 tones, 102 near-neutral patches, 8 repeats",
        "1 page of 210 x 297 mm",
        "one channel at a time",
        "colour management off",
        "Let it dry",
        "greyscale check READING --layout",
    ):
        assert words in result.stdout


def test_a_name_with_an_ending_is_taken_without_it(tmp_path):
    _run("-o", tmp_path / "start.tif", "--dpi", 72)
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "start.pdf",
        "start.tif",
        "start.txt",
    ]


def test_the_date_can_be_given_and_then_files_are_the_same(tmp_path):
    for name in ("a", "b"):
        _run("-o", tmp_path / name / "x", "--dpi", 72, "--date", "2025-03-04")
    for ending in ("tif", "pdf", "txt"):
        first, second = ((tmp_path / name / f"x.{ending}").read_bytes() for name in "ab")
        assert first == second
    assert read_layout(tmp_path / "a" / "x.txt").fields["CHART_DATE"] == "2025-03-04"


def test_a_follow_up_says_why_patches_went_where_they_did(tmp_path):
    result = _run("-o", tmp_path / "follow", "--after", READING, "--dpi", 72)
    assert "Where the patches are\n" in result.stdout
    said = " ".join(result.stdout.split())
    assert "where the curve bends" in said
    assert "least certain" in said
    layout = read_layout(tmp_path / "follow.txt")
    assert any(reason.startswith("bend: ") for reason in layout.reasons)
    assert "24 tones after cotton rag" in layout.fields["CHART_SETTINGS"]


def test_a_chart_for_a_picture_follows_it(tmp_path, fog):
    result = _run("-o", tmp_path / "for-fog", "--for-image", fog, "--dpi", 72)
    level = read_layout(tmp_path / "for-fog.txt").device.mean(axis=1)
    assert (np.abs(level - 0.3) < 0.15).mean() > 0.5
    assert {0.0, 1.0} <= set(level)
    assert "eight tenths of the picture" in " ".join(result.stdout.split())


def test_a_follow_up_for_a_picture_weighs_both(tmp_path, fog):
    result = _run("-o", tmp_path / "x", "--for-image", fog, "--after", READING, "--dpi", 72)
    level = read_layout(tmp_path / "x.txt").device.mean(axis=1)
    assert (np.abs(level - 0.3) < 0.15).mean() > 0.5
    assert "weighted by where the picture has its tones" in " ".join(result.stdout.split())


def test_an_input_is_never_overwritten(tmp_path, fog):
    before = fog.read_bytes()
    with pytest.raises(BadInput, match="this is an input"):
        _run("-o", tmp_path / "fog", "--for-image", fog)
    assert fog.read_bytes() == before
    reading = shutil.copy(READING, tmp_path / "first.txt")
    with pytest.raises(BadInput, match="this is an input"):
        _run("-o", tmp_path / "first", "--after", reading)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--tones", 0), "tones are not possible"),
        (("--repeats", -3), "repeats are not possible"),
        (("--page", "b9"), "the page 'b9' is not known"),
        (("--dpi", 5), "5 dpi is not possible"),
        (("--patch-size", 3), "too small to measure"),
        (("--page", "60x60mm"), "too small to measure"),
        (("--after", READING, "--spacing", "level"), "belongs to a starting chart"),
        (("--after", SAMPLES / "nothing.txt"), "nothing.txt"),
        (("--for-image", READING), "not a picture"),
        (("--after", READING, "--tones", 3), "3 tones are not possible"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(options, says, tmp_path):
    with pytest.raises(BadInput, match=says):
        _run("-o", tmp_path / "x", *options)
    assert not list(tmp_path.iterdir())


def test_so_many_patches_as_asked_are_spent_and_more_after_a_reading(tmp_path):
    said = _run("--patches", 24, "-o", tmp_path / "few", "--dpi", 72).output
    assert "24 patches" in said
    assert "expected of a correction from it: a mean ΔCh of about" in " ".join(said.split())
    layout = read_layout(tmp_path / "few.txt")
    assert len(layout.ids) == 24
    write(demo_printer().measure(layout.ids, layout.device, seed=2), tmp_path / "reading.txt")
    after = ("--after", tmp_path / "reading.txt")
    said = _run("--patches", 12, *after, "-o", tmp_path / "more", "--dpi", 72).output
    assert "where the first alone leaves" in " ".join(said.split())
    assert len(read_layout(tmp_path / "more.txt").ids) == 12
    with pytest.raises(BadInput, match="take 24 to 600"):
        _run("--patches", 12, "-o", tmp_path / "none")
    with pytest.raises(BadInput, match="leave out --tones"):
        _run("--patches", 40, "--tones", 9, "-o", tmp_path / "none")
