"""How sure a correction is over a picture: by the picture's own tones."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import halfnorm, rayleigh, rice

from greyscale.charts.picture_tones import PictureTones
from greyscale.correction.correct import correct
from greyscale.correction.expectation import Limit
from greyscale.correction.record import Curve
from greyscale.correction.sureness import (
    largest_in_four_of_five,
    limit_of_largest,
    picture_sureness,
)
from greyscale.readings.formats import read

LEVELS = np.linspace(0, 1, 2041)
SAMPLES = Path(__file__).parents[2] / "sample_measurements"


def tones(*levels: float) -> PictureTones:
    grid = np.linspace(0, 1, 256)
    shares = np.zeros(256)
    for level in levels:
        shares[np.argmin(np.abs(grid - level))] += 1 / len(levels)
    return PictureTones("fog.tif", grid, shares, 1000)


def correction(sd_in_shadows: float):
    sd = np.full((2041, 3), 0.1)
    sd[LEVELS < 0.25] = sd_in_shadows
    grey = np.repeat(LEVELS[:, None], 3, axis=1)
    lab = np.stack([100 * LEVELS, 0 * LEVELS, 0 * LEVELS], axis=-1)
    return SimpleNamespace(curve=Curve(LEVELS, grey, lab, sd), aim_lab=lab)


def test_a_picture_of_sure_tones_is_as_sure_as_they_are() -> None:
    found = picture_sureness(correction(0.5), tones(0.6, 0.8))
    assert found.picture == pytest.approx(1.96 * 0.1)
    assert found.whole == pytest.approx(1.96 * (0.25 * 0.5 + 0.75 * 0.1), rel=2e-3)
    assert not found.worth_a_chart
    # The mean length of a vector whose two parts have standard deviation 0.1 (Rayleigh).
    assert found.delta_Ch == pytest.approx(0.1 * np.sqrt(np.pi / 2))


def test_a_picture_of_unsure_tones_is_worth_a_chart_and_says_where() -> None:
    found = picture_sureness(correction(0.5), tones(0.1, 0.12, 0.6))
    assert found.picture == pytest.approx(1.96 * (2 * 0.5 + 0.1) / 3)
    assert found.worth_a_chart
    assert found.worst_level == pytest.approx(0.1, abs=0.02)
    assert found.worst == pytest.approx(1.96 * 0.5)


def test_the_largest_error_lies_in_its_range_in_four_cases_of_five() -> None:
    """By SciPy: nine cases in ten below the most of ten tones, and above the least of five."""
    (least_Ch, most_Ch), (least_L, most_L) = largest_in_four_of_five(correction(0.1))
    one_of_five, one_of_ten = 0.1 ** (1 / 5), 0.9 ** (1 / 10)
    assert least_Ch == pytest.approx(rayleigh.ppf(one_of_five, scale=0.1), rel=0.05)
    assert most_Ch == pytest.approx(rayleigh.ppf(one_of_ten, scale=0.1), rel=0.05)
    assert least_L == pytest.approx(halfnorm.ppf(one_of_five, scale=0.1), rel=0.05)
    assert most_L == pytest.approx(halfnorm.ppf(one_of_ten, scale=0.1), rel=0.05)


def test_a_tone_that_is_off_by_what_is_known_may_print_better_or_worse() -> None:
    """Its ΔCh has Rice's distribution (SciPy), from 4.87 to 5.13 in four cases of five."""
    made = correction(0.1)
    made.aim_lab = made.aim_lab + np.array([0.0, 3.0, 4.0]) * (LEVELS < 0.02)[:, None]
    ends, _ = largest_in_four_of_five(made)
    np.testing.assert_allclose(ends, rice.ppf([0.1, 0.9], 5.0 / 0.1, scale=0.1), atol=0.02)


def test_a_limit_that_the_largest_lies_in_is_told_from_what_tones_outside_come_to() -> None:
    made = correction(0.1)
    outside = limit_of_largest(SimpleNamespace(**vars(made), limits=()))
    made.aim_lab = made.aim_lab + np.array([0.0, 3.0, 4.0]) * (LEVELS < 0.02)[:, None]
    black = Limit("black", 0.0, 0.02, 5.0, 0.0, "")
    made.limits = (black, Limit("range", 0.4, 0.5, 0.2, 0.0, ""))
    assert limit_of_largest(made) == (black, pytest.approx(outside[1]))
    made.limits = made.limits[1:]
    limit, largest = limit_of_largest(made)
    assert limit is None
    assert largest == pytest.approx(5.0, abs=0.02)


@pytest.mark.parametrize("sample", ["cotton-rag-33-m1", "baryta-65-m1"])
def test_the_largest_that_is_expected_lies_in_its_range(sample: str) -> None:
    made = correct([read(SAMPLES / f"{sample}.txt")])
    expected = made.expectation
    for (least, most), named in zip(
        largest_in_four_of_five(made),
        (expected.after_max_delta_Ch, expected.after_max_delta_L),
        strict=True,
    ):
        assert least <= named <= most
