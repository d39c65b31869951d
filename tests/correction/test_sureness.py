"""How sure a correction is over a picture: by the picture's own tones."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from greyscale.charts.picture_tones import PictureTones
from greyscale.correction.record import Curve
from greyscale.correction.sureness import largest_in_four_of_five, picture_sureness

LEVELS = np.linspace(0, 1, 2041)


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
    """Errors drawn: of ten independent tones the most holds, of five the least, in 9 of 10."""
    (least_Ch, most_Ch), (least_L, most_L) = largest_in_four_of_five(correction(0.1))
    errors = 0.1 * np.random.default_rng(3).normal(size=(40_000, 10, 3))
    delta_Ch, delta_L = np.hypot(errors[..., 1], errors[..., 2]), np.abs(errors[..., 0])
    for found, least, most in ((delta_Ch, least_Ch, most_Ch), (delta_L, least_L, most_L)):
        assert np.mean(found.max(axis=1) <= most) == pytest.approx(0.9, abs=0.01)
        assert np.mean(found[:, :5].max(axis=1) >= least) == pytest.approx(0.9, abs=0.01)


def test_a_tone_out_of_reach_is_in_the_range_of_the_largest() -> None:
    made = correction(0.1)
    made.aim_lab = made.aim_lab + np.array([0.0, 3.0, 4.0]) * (LEVELS < 0.02)[:, None]
    (least, most), _ = largest_in_four_of_five(made)
    assert 5.0 < least < most < 5.02
