"""What any printer is held to answer before its near-neutral patches are measured."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from greyscale.printer.model import PACE, general_prior

LEVELS = np.linspace(0.0, 1.0, 101)
GREY = np.repeat(LEVELS[:, None], 3, axis=1)


def centre(level: np.ndarray) -> np.ndarray:
    return np.column_stack([20 + 75 * level, 0.5 * level, -2 * level])


def ramp(L: np.ndarray) -> np.ndarray:
    return np.column_stack([L, 0 * L, 0 * L])


def slopes(prior, level: float) -> np.ndarray:
    """Change of CIELAB (rows) with R, G, B (columns), the mean of the three kept."""
    at = np.full((1, 3), level)
    columns = []
    for channel in range(3):
        step = 1e-3 * (np.eye(3)[channel] - 1 / 3)
        columns.append((prior.lab(at + step) - prior.lab(at - step))[0] / 2e-3)
    return np.stack(columns, axis=-1)


def test_on_the_axis_it_prints_the_aim() -> None:
    prior = general_prior(GREY, ramp(20 + 75 * LEVELS**1.3), centre, alone=False)
    np.testing.assert_allclose(prior.lab(GREY), centre(LEVELS), atol=1e-9)


def test_beside_it_red_and_blue_act_as_in_srgb_at_the_prints_own_pace() -> None:
    """IEC 61966-2-1 by colour: the hues of single channels, scaled by the range of L*."""
    prior = general_prior(GREY, ramp(20 + 75 * LEVELS), centre, alone=False)
    step = 0.01

    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]

    def lab(rgb: list[float]) -> np.ndarray:
        return np.asarray(colour.XYZ_to_Lab(colour.sRGB_to_XYZ(rgb), white))

    for channel in (0, 2):
        up, down = [0.5] * 3, [0.5] * 3
        up[channel] += step
        down[channel] -= step
        srgb = (lab(up) - lab(down)) / (2 * step)
        grey = (lab([0.51] * 3) - lab([0.49] * 3)) / 0.02
        mine = slopes(prior, 0.5)[:, channel]
        hue_mine, hue_srgb = (np.degrees(np.arctan2(v[2], v[1])) for v in (mine, srgb))
        assert (hue_mine - hue_srgb + 180) % 360 - 180 == pytest.approx(0, abs=12)
        pace = np.hypot(*mine[1:]) / np.hypot(*srgb[1:]) * grey[0] / 75
        assert pace == pytest.approx(PACE, rel=0.12)


def test_a_ramp_alone_makes_colours_livelier_where_it_is_steeper() -> None:
    steep_in_light = 20 + 75 * LEVELS**2
    alone = general_prior(GREY, ramp(steep_in_light), centre, alone=True)
    even = general_prior(GREY, ramp(20 + 75 * LEVELS), centre, alone=True)
    for level in (0.3, 0.5, 0.8):
        ratio = np.abs(slopes(alone, level)[1, 1]) / np.abs(slopes(even, level)[1, 1])
        # The ramp's own slope is 2 level times the mean; it is followed to the power of 0.75.
        assert ratio == pytest.approx((2 * level) ** 0.75, rel=0.03)


def test_measured_beside_the_axis_only_the_mean_slope_counts() -> None:
    one = general_prior(GREY, ramp(20 + 75 * LEVELS**2), centre, alone=False)
    other = general_prior(GREY, ramp(20 + 75 * LEVELS), centre, alone=False)
    np.testing.assert_allclose(slopes(one, 0.3), slopes(other, 0.3), rtol=1e-9)


def test_what_black_ink_adds_makes_the_ramp_steeper_but_no_colour_livelier() -> None:
    below = 0.4
    L = 20 + 75 * LEVELS - 60 * np.maximum(below - LEVELS, 0.0) + 60 * below
    known = general_prior(GREY, ramp(L), centre, alone=True, black_below=below)
    unknown = general_prior(GREY, ramp(L), centre, alone=True)
    light, dark = (np.abs(slopes(known, level)[1, 1]) for level in (0.7, 0.2))
    assert dark < light
    assert np.abs(slopes(unknown, 0.2)[1, 1]) > dark
    np.testing.assert_allclose(slopes(known, 0.7), slopes(unknown, 0.7), rtol=1e-9)
