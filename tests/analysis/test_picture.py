"""An analysis weighed by a picture: `analyse --for-image`."""

import json
from pathlib import Path

import numpy as np
import pytest
import tifffile
from support.grey_readings import ramp_lab, reading_of
from typer.testing import CliRunner

from greyscale.analysis.analyse import analyse
from greyscale.charts.picture_tones import PictureTones
from greyscale.cli.app import app
from greyscale.reporting.analysis_words import sentences
from greyscale.reporting.json_output import analysis_data

LEVELS = np.linspace(0, 1, 33)
BINS = np.linspace(0, 1, 256)
READING = Path(__file__).parents[2] / "sample_measurements" / "cotton-rag-33-m1.txt"


def _picture(shares):
    shares = np.asarray(shares, dtype=float)
    return PictureTones("pictures/harbour.tif", BINS, shares / shares.sum(), 10_000)


def _reading():
    """Give a ramp that is greenish (a* -3 from its aim) from 0.25 to 0.5, L*-linear."""
    tones = (LEVELS >= 0.25) & (LEVELS <= 0.5)
    return reading_of(LEVELS, ramp_lab(LEVELS, a=np.where(tones, -3.0, 0.0)))


def test_a_picture_of_one_tone_has_that_tones_differences():
    for level in (0.375, 0.75):
        shares = np.abs(BINS - level) < 0.6 / 255
        found = analyse(_reading(), picture=_picture(shares)).picture
        assert found.mean_delta_Ch == pytest.approx(3.0 if level < 0.5 else 0.0, abs=1e-9)
        assert found.mean_abs_delta_L == pytest.approx(0, abs=1e-9)


def test_means_are_sums_over_the_area_of_the_picture():
    """By hand: 0.3 of the area at a ΔCh of 3 and 0.7 at 0 is 0.9."""
    shares = np.zeros(256)
    shares[100], shares[200] = 0.3, 0.7  # Levels 0.39 and 0.78.
    found = analyse(_reading(), picture=_picture(shares)).picture
    assert found.mean_delta_Ch == pytest.approx(0.9, abs=1e-9)


def test_delta_L_tells_too_light_from_too_dark():
    lab = ramp_lab(LEVELS)
    lab[:, 0] += np.where((LEVELS > 0.1) & (LEVELS < 0.5), 2.0, 0.0)
    lab[:, 0] -= np.where((LEVELS > 0.5) & (LEVELS < 0.9), 2.0, 0.0)
    shares = np.zeros(256)
    shares[76], shares[179] = 0.75, 0.25  # Levels 0.30 and 0.70.
    found = analyse(reading_of(LEVELS, lab), picture=_picture(shares)).picture
    assert found.mean_delta_L == pytest.approx(1.0, abs=1e-6)
    assert found.mean_abs_delta_L == pytest.approx(2.0, abs=1e-6)


def test_each_cast_has_the_share_of_the_picture_that_lies_in_it():
    """Even tones: the cast from 0.25 to 0.5 reaches half a step of 1/32 further on each side."""
    found = analyse(_reading(), picture=_picture(np.ones(256))).picture
    (cast,) = found.casts
    assert cast.hue == "greenish"
    assert cast.share == pytest.approx(0.25 + 1 / 32, abs=0.003)
    assert found.share_in_casts == cast.share


def test_a_picture_beside_the_cast_has_no_share_in_it():
    analysis = analyse(_reading(), picture=_picture(BINS > 0.7))
    assert analysis.picture.share_in_casts == 0
    assert "none of it lies in a cast" in " ".join(sentences(analysis))


def test_the_sentence_names_shares_and_casts():
    analysis = analyse(_reading(), picture=_picture((BINS > 0.3) & (BINS < 0.45)))
    said = " ".join(sentences(analysis))
    assert "Over the tones of harbour.tif, mean ΔCh is 3.00" in said
    assert "100 % of it in the greenish cast from 0.25 to 0.50" in said


def test_without_a_picture_nothing_is_said_of_one():
    analysis = analyse(_reading())
    assert analysis.picture is None
    assert analysis_data(analysis)["picture"] is None


def test_order_of_patches_changes_nothing():
    order = np.random.default_rng(2).permutation(33)
    picture = _picture(np.random.default_rng(3).random(256))
    reading = _reading()
    first = analyse(reading, picture=picture).picture
    second = analyse(reading.select(order), picture=picture).picture
    assert first.mean_delta_Ch == pytest.approx(second.mean_delta_Ch, abs=1e-12)
    assert first.casts == second.casts


def test_the_command_writes_it_as_json_and_says_it_in_words(tmp_path):
    path = tmp_path / "harbour.tif"
    tones = np.random.default_rng(1).normal(0.35, 0.05, (90, 100)).clip(0, 1)
    tifffile.imwrite(path, np.round(tones * 65535).astype(np.uint16))
    arguments = ["analyse", str(READING), "--for-image", str(path)]
    shown = CliRunner().invoke(app, [*arguments, "--verbose"])
    assert shown.exit_code == 0
    said = " ".join(shown.stdout.split())
    assert "Over the tones of harbour.tif" in said
    data = json.loads(CliRunner().invoke(app, [*arguments, "--json", "-"]).stdout)["picture"]
    assert data["pixels"] == 9000
    # The reading's cast is strongest there: ΔCh 3.0 at 0.35.
    assert 2.0 < data["mean_delta_Ch"] < 3.1
    assert sum(cast["share"] for cast in data["casts"]) == pytest.approx(data["share_in_casts"])


def test_what_blocks_and_bleaches_is_said_with_what_scaling_does_to_the_mid_tones():
    """By hand: a third of the picture at a level that prints as black, a third in mid-grey.

    sRGB's mid-grey is L* 53.4 (IEC 61966-2-1); between a black of 21 and a paper of 96, linear
    scaling makes it 21 + 75 * 0.534 = 61.0; by luminance (ISO 18619) 21 and 96 are Y 3.26 and
    90.0, mid-grey Y 21.4: 3.26 + 86.7 * 0.214 = 21.8, L* 53.8.
    """
    lab = ramp_lab(LEVELS)
    lab[:, 0] = np.interp(LEVELS, [0, 0.125, 1], [21.0, 21.0, 96.0])
    shares = np.zeros(256)
    shares[15] = shares[128] = shares[230] = 1 / 3  # Levels 0.06, 0.50 and 0.90.
    analysis = analyse(reading_of(LEVELS, lab), aim="srgb", picture=_picture(shares))
    found = analysis.picture.on_paper
    assert found.blocked_share == pytest.approx(1 / 3, abs=1e-6)
    assert found.bleached_share == pytest.approx(0.0, abs=1e-6)
    assert found.midtone_L["linear"] == pytest.approx(61.0, abs=0.3)
    assert found.midtone_L["black-point"] == pytest.approx(53.8, abs=0.3)
    said = " ".join(sentences(analysis))
    assert "33 % of the picture lies below level 0.14, which prints as one black" in said
    data = analysis_data(analysis)["picture"]["on_paper"]
    assert data["blocked_share"] == pytest.approx(1 / 3, abs=1e-6)
