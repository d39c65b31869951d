"""Tone aims against the standards' formulas as a second library has them, and by hand."""

from __future__ import annotations

from pathlib import Path

import colour
import numpy as np
import pytest

from greyscale.aims.tone import TONE_AIMS, tone_aim
from greyscale.base.errors import BadInput

LEVELS = np.linspace(0, 1, 21)
BLACK, PAPER = 16.0, 95.0


def lightness(Y):
    """CIE L* of Y (0 to 100), by `colour`."""
    return colour.lightness(np.asarray(Y), method="CIE 1976")


def luminance(L):
    return colour.luminance(np.asarray(L), method="CIE 1976")


def test_lstar_is_a_straight_line_between_black_and_paper():
    L = tone_aim("lstar").target(LEVELS, BLACK, PAPER)
    np.testing.assert_allclose(L, 16.0 + 79.0 * LEVELS)


def test_srgb_is_iec_61966_2_1_scaled_linearly_in_lightness():
    """IEC 61966-2-1:1999, as `colour.models.eotf_sRGB` decodes it."""
    unscaled = lightness(100 * colour.models.eotf_sRGB(LEVELS))
    np.testing.assert_allclose(tone_aim("srgb").target(LEVELS, 0, 100), unscaled, atol=1e-9)
    scaled = 16.0 + 79.0 * unscaled / 100
    np.testing.assert_allclose(tone_aim("srgb").target(LEVELS, BLACK, PAPER), scaled, atol=1e-9)


@pytest.mark.parametrize(("name", "exponent"), [("gamma-1.8", 1.8), ("gamma-2.2", 2.2)])
def test_gamma_is_a_power_of_the_level(name, exponent):
    expected = 16.0 + 79.0 * lightness(100 * LEVELS**exponent) / 100
    np.testing.assert_allclose(tone_aim(name).target(LEVELS, BLACK, PAPER), expected, atol=1e-9)


@pytest.mark.parametrize("name", ["lstar", "srgb", "gamma-1.8", "gamma-2.2"])
def test_black_point_compensation_is_linear_in_luminance(name):
    """ISO 18619: destination = black + (white - black) * source, in XYZ."""
    source = luminance(tone_aim(name).target(LEVELS, 0, 100, "none"))
    Y_black, Y_paper = luminance(BLACK), luminance(PAPER)
    expected = lightness(Y_black + (Y_paper - Y_black) * source / 100)
    found = tone_aim(name).target(LEVELS, BLACK, PAPER, "black-point")
    np.testing.assert_allclose(found, expected, atol=1e-9)


def test_density_is_linear_from_black_to_paper():
    """Density -log10(Y/100) at level 0, 1/2 and 1: the middle is the mean of the ends."""
    L = tone_aim("density").target([0.0, 0.5, 1.0], BLACK, PAPER)
    dark, middle, light = -np.log10(luminance(L) / 100)
    assert middle == pytest.approx((dark + light) / 2)
    np.testing.assert_allclose(L[[0, 2]], [BLACK, PAPER])


@pytest.mark.parametrize("scaling", ["linear", "black-point", "none"])
def test_the_density_aim_is_never_scaled(scaling):
    aim = tone_aim("density")
    np.testing.assert_array_equal(
        aim.target(LEVELS, BLACK, PAPER, scaling), aim.target(LEVELS, BLACK, PAPER)
    )


@pytest.mark.parametrize("name", TONE_AIMS)
@pytest.mark.parametrize("scaling", ["linear", "black-point"])
def test_every_aim_begins_at_black_ends_at_paper_and_rises(name, scaling):
    L = tone_aim(name).target(LEVELS, BLACK, PAPER, scaling)
    np.testing.assert_allclose(L[[0, -1]], [BLACK, PAPER], atol=1e-9)
    assert np.all(np.diff(L) > 0)


def test_no_scaling_leaves_the_aim_as_it_stands():
    np.testing.assert_allclose(tone_aim("lstar").target([0.25], BLACK, PAPER, "none"), [25.0])


def table(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "aim.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_table_goes_through_its_points_without_turning_back(tmp_path):
    path = table(tmp_path, "level,L*\n0,0\n0.5,30\n# a remark\n0.6,31\n1,100\n")
    aim = tone_aim(path)
    np.testing.assert_allclose(aim.target([0, 0.5, 0.6, 1], 0, 100), [0, 30, 31, 100], atol=1e-9)
    assert np.all(np.diff(aim.target(np.linspace(0, 1, 501), BLACK, PAPER)) > 0)


@pytest.mark.parametrize(
    "text", ["0;0\n0,5;30\n1;100\n", "Stufe\tL*\n0\t0\n0,5\t30\n1\t100\n", "1,100\n0.5,30\n0,0\n"]
)
def test_tables_come_with_semicolons_tabs_decimal_commas_and_in_any_order(tmp_path, text):
    np.testing.assert_allclose(tone_aim(table(tmp_path, text)).target([0.5], 0, 100), [30.0])


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("0,0\n0.5,about 30\n1,100\n", 2, "about 30"),
        ("0,0\n50,30\n1,100\n", 2, "levels go from 0 to 1"),
        ("0,0\n0.5,30\n0.5,31\n1,100\n", 3, "line 2 already"),
        ("0,0\n0.5,30\n0.6,29\n1,100\n", 3, "does not rise"),
        ("0,0\n0.5,nan\n1,100\n", 2, "needs a level"),
        ("0.1,10\n1,100\n", None, "from level 0 to level 1"),
        ("", None, "from level 0 to level 1"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused_by_line(tmp_path, text, line, says):
    path = table(tmp_path, text)
    with pytest.raises(BadInput, match=says) as caught:
        tone_aim(path)
    assert caught.value.source == str(path)
    assert caught.value.line == line


def test_a_binary_file_is_no_table(tmp_path):
    path = tmp_path / "aim.csv"
    path.write_bytes(bytes(range(256)))
    with pytest.raises(BadInput, match="cannot be read as text"):
        tone_aim(path)


def test_unknown_names_are_answered_with_those_there_are():
    with pytest.raises(BadInput, match=r"lstar, srgb, gamma-1\.8, gamma-2\.2, density"):
        tone_aim("gamma-2.4")
    with pytest.raises(BadInput, match="linear, black-point, none"):
        tone_aim("lstar").target([0.5], BLACK, PAPER, "stretched")
