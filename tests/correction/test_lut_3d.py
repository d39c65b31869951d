"""The 3D LUT is the curve on the grey axis and changes nothing far from it."""

import numpy as np
import pytest

from greyscale.correction.cube import write_cube_3d
from greyscale.correction.curve import Curve, unchanged
from greyscale.correction.lut_3d import (
    CLOSE_ENOUGH,
    FAR,
    NEAR,
    axis_difference,
    closest_lut,
    lut_3d,
    lut_3d_by_luminance,
)


def delta_E_2000(first, second):
    """CIEDE2000 by another library."""
    from colour.difference import delta_E_CIE2000

    return delta_E_CIE2000(first, second)


GREYS = np.repeat(np.linspace(0, 1, 8193)[:, np.newaxis], 3, axis=1)
COLOURS = np.random.default_rng(2).random((5000, 3))
INTERPOLATIONS = ["linear", "tetrahedral"]


@pytest.fixture
def written(tmp_path):
    def write(lut):
        path = tmp_path / "a.cube"
        write_cube_3d(lut.table, path, "harbour")
        return path

    return write


@pytest.mark.parametrize("interpolation", INTERPOLATIONS)
@pytest.mark.parametrize("size", [33, 65])
@pytest.mark.parametrize("make", [lut_3d, lut_3d_by_luminance])
def test_axis_prints_like_the_curve(
    curve, make, size, interpolation, written, printer_lab, read_by_opencolorio
):
    """Within 0.1 ΔE00 in what is printed, and no further than is stated."""
    lut = make(curve, size)
    stated = axis_difference(lut, curve, printer_lab)
    read = read_by_opencolorio(written(lut), GREYS, interpolation)
    found = delta_E_2000(printer_lab(read), printer_lab(curve.apply(GREYS))).max()
    assert found < 0.1
    assert found == pytest.approx(stated, abs=0.002)


@pytest.mark.parametrize("make", [lut_3d, lut_3d_by_luminance])
def test_fitted_nodes_halve_the_difference_of_nodes_on_the_curve(curve, make, printer_lab):
    lut = make(curve, 33)
    nodes = np.linspace(0, 1, 33)
    on_curve = curve.apply(np.repeat(nodes[:, np.newaxis], 3, axis=1))
    plain = np.stack([np.interp(GREYS[:, c], nodes, on_curve[:, c]) for c in range(3)], axis=-1)
    plain_difference = delta_E_2000(printer_lab(plain), printer_lab(curve.apply(GREYS))).max()
    assert axis_difference(lut, curve, printer_lab) < 0.75 * plain_difference


@pytest.mark.parametrize("interpolation", INTERPOLATIONS)
@pytest.mark.parametrize("make", [lut_3d, lut_3d_by_luminance])
def test_both_ends_are_exact(curve, make, interpolation, written, read_by_opencolorio):
    """Bare paper stays bare, black the printer's darkest."""
    ends = np.array([[0.0] * 3, [1.0] * 3])
    read = read_by_opencolorio(written(make(curve)), ends, interpolation)
    np.testing.assert_allclose(read, curve.rgb[[0, -1]], atol=1e-6)


@pytest.mark.parametrize("interpolation", INTERPOLATIONS)
def test_pure_colours_are_not_changed(curve, interpolation, written, read_by_opencolorio):
    lut = lut_3d(curve)
    far = COLOURS[np.ptp(COLOURS, axis=1) > lut.far + 2 / 32]
    assert len(far) > 1000
    np.testing.assert_allclose(
        read_by_opencolorio(written(lut), far, interpolation), far, atol=1e-6
    )


@pytest.mark.parametrize("interpolation", INTERPOLATIONS)
def test_near_the_axis_each_channel_goes_through_its_curve(
    curve, interpolation, written, read_by_opencolorio
):
    near = GREYS[1:-1] + np.random.default_rng(3).uniform(-0.015, 0.015, GREYS[1:-1].shape)
    near = np.clip(near, 0, 1)
    assert np.ptp(near, axis=1).max() < NEAR - 2 / 32
    read = read_by_opencolorio(written(lut_3d(curve)), near, interpolation)
    assert np.abs(read - curve.apply(near)).max() < 0.003


def test_in_between_the_share_of_the_correction_falls_steadily(curve):
    """Along a line of one red value away from the axis."""
    lut = lut_3d(curve, 65)
    at = 32
    change = lut.table[at, : at + 1, at, 0] - at / 64
    share = change[::-1] / change[-1]
    assert share[0] == 1.0
    assert share[-1] < 0.35
    assert np.all(np.diff(share) <= 1e-12)


def darkening(exponent):
    """A curve that is nearly level in the shadows and far below no change in the midtones."""
    v = np.linspace(0.0, 1.0, 2041)
    return Curve(v, np.repeat((v**exponent)[:, np.newaxis], 3, axis=1), np.zeros((2041, 3)), v)


@pytest.mark.parametrize("exponent", [0.3, 0.5, 1.6, 2.5])
def test_no_channel_turns_back(exponent):
    """A picture's smooth colours stay in order, however far the curve lies from no change."""
    lut = lut_3d(darkening(exponent))
    for channel in range(3):
        assert np.diff(lut.table[..., channel], axis=channel).min() >= -1e-9


def test_a_strong_curve_fades_over_a_longer_way():
    assert lut_3d(darkening(1.1)).far == FAR[0]
    assert lut_3d(darkening(2.5)).far > FAR[0]


def test_no_correction_is_no_change():
    np.testing.assert_allclose(
        lut_3d(unchanged(), 17).table[3, 9, 14], np.array([3, 9, 14]) / 16, atol=1e-12
    )


def test_by_luminance_a_toned_monochrome_prints_as_its_grey(curve, written, read_by_opencolorio):
    """Encoded in gamma 2.2; luminance of the sRGB primaries (ITU-R BT.709: 0.2126, 0.7152, 0.0722),
    computed by another library."""
    import colour

    levels = np.linspace(0.05, 0.9, 50)
    tint = np.array([0.06, 0.0, -0.08])
    toned = np.clip(levels[:, np.newaxis] + tint * np.sin(np.pi * levels)[:, np.newaxis], 0, 1)
    space = colour.RGB_COLOURSPACES["sRGB"]
    Y = colour.RGB_luminance(toned**2.2, space.primaries, space.whitepoint)
    lut = lut_3d_by_luminance(curve, 65, lambda v: v**2.2)
    grey = np.repeat((Y ** (1 / 2.2))[:, np.newaxis], 3, axis=1)
    read = read_by_opencolorio(written(lut), toned, "tetrahedral")
    assert np.abs(read - curve.apply(grey)).max() < 0.006


def test_by_luminance_a_pure_colour_prints_as_its_grey(curve):
    lut = lut_3d_by_luminance(curve, 33, lambda v: v**2.2)
    level = 0.0722 ** (1 / 2.2)
    blue = lut.table[0, 0, -1]
    np.testing.assert_allclose(blue, curve.apply([level] * 3), atol=0.006)


def test_more_nodes_are_taken_where_the_curve_needs_them(make_curve, printer_lab):
    def smallest(bend):
        curve = make_curve(bend)
        return closest_lut(lambda size: lut_3d(curve, size), curve, printer_lab)

    lut, difference = smallest(0.05)
    assert lut.size == 33
    assert difference < CLOSE_ENOUGH
    lut, difference = smallest(1.0)
    assert lut.size > 33


def test_where_no_size_is_close_enough_the_closest_is_taken(make_curve, printer_lab):
    curve = make_curve(1.0)
    lut, difference = closest_lut(
        lambda size: lut_3d(curve, size), curve, printer_lab, sizes=(9, 17)
    )
    assert lut.size == 17
    assert difference > CLOSE_ENOUGH


@pytest.mark.parametrize("size", [8, 66])
def test_sizes_out_of_range_are_refused(curve, size):
    with pytest.raises(ValueError, match="9 to 65"):
        lut_3d(curve, size)
