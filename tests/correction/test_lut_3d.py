"""The 3D LUT is the curve on the grey axis and changes nothing far from it."""

import dataclasses

import numpy as np
import pytest
from support.corrections import unchanged

from greyscale.correction.luts import (
    CLOSE_ENOUGH,
    FAR,
    NEAR,
    GreyAxis,
    backwards,
    choose_size,
    even_knots,
    lut_3d,
    lut_3d_by_luminance,
    write_cube,
)
from greyscale.correction.record import Curve


def delta_E_2000(first, second):
    """CIEDE2000 by another library."""
    from colour.difference import delta_E_CIE2000

    return delta_E_CIE2000(first, second)


GREYS = np.repeat(np.linspace(0, 1, 8193)[:, np.newaxis], 3, axis=1)
COLOURS = np.random.default_rng(2).random((5000, 3))
INTERPOLATIONS = ["linear", "tetrahedral"]


def by_luminance(axis, size):
    """For pictures encoded in gamma 2.2."""
    return lut_3d_by_luminance(axis, size, lambda v: v**2.2)


@pytest.fixture(scope="module")
def axis(curve, printer_lab):
    return GreyAxis.of(curve, printer_lab)


@pytest.fixture
def written(tmp_path):
    def write(lut):
        path = tmp_path / "a.cube"
        write_cube(lut.table, path, "harbour", ["Paper: kozo"])
        return path

    return write


def test_the_printer_is_asked_only_what_can_be_sent_to_it(curve):
    """Where the curve ends in full ink or bare paper, and where two channels do before the third.

    Of a printer that answers in proportion, the slopes are its own there too.
    """
    straight = np.array([[20.0, 40.0, 30.0], [30.0, -25.0, -5.0], [5.0, 20.0, -25.0]])

    def asked(device):
        assert device.min() >= 0.0
        assert device.max() <= 1.0
        return device @ straight.T

    slopes = GreyAxis.of(curve, asked).slopes
    np.testing.assert_allclose(slopes, np.broadcast_to(straight, slopes.shape), atol=1e-9)


@pytest.mark.parametrize("interpolation", INTERPOLATIONS)
@pytest.mark.parametrize("make", [lut_3d, by_luminance])
@pytest.mark.parametrize("size", [33, 65])
def test_axis_prints_like_the_curve(
    axis, curve, make, size, interpolation, written, printer_lab, read_by_opencolorio
):
    """Within 0.1 ΔE00 in what is printed, and no further than is stated."""
    stated = axis.difference(even_knots(size))
    read = read_by_opencolorio(written(make(axis, size)), GREYS, interpolation)
    found = delta_E_2000(printer_lab(read), printer_lab(curve.apply(GREYS))).max()
    assert (make(axis, size).far is None) is (make is by_luminance)
    assert found < 0.1
    assert found == pytest.approx(stated, abs=0.002)


def test_fitted_nodes_come_closer_than_nodes_on_the_curve(axis, curve, printer_lab):
    nodes = even_knots(33)
    on_curve = curve.apply(np.repeat(nodes[:, np.newaxis], 3, axis=1))
    plain = np.stack([np.interp(GREYS[:, c], nodes, on_curve[:, c]) for c in range(3)], axis=-1)
    plain_difference = delta_E_2000(printer_lab(plain), printer_lab(curve.apply(GREYS))).max()
    assert axis.difference(nodes) < 0.75 * plain_difference


@pytest.mark.parametrize("interpolation", INTERPOLATIONS)
@pytest.mark.parametrize("make", [lut_3d, by_luminance])
def test_both_ends_are_exact(axis, curve, make, interpolation, written, read_by_opencolorio):
    """Bare paper stays bare, black the printer's darkest."""
    ends = np.array([[0.0] * 3, [1.0] * 3])
    read = read_by_opencolorio(written(make(axis, 33)), ends, interpolation)
    np.testing.assert_allclose(read, curve.rgb[[0, -1]], atol=1e-6)


@pytest.mark.parametrize("interpolation", INTERPOLATIONS)
def test_pure_colours_are_not_changed(axis, interpolation, written, read_by_opencolorio):
    lut = lut_3d(axis, 33)
    far = COLOURS[np.ptp(COLOURS, axis=1) > lut.far + 2 / 32]
    assert len(far) > 1000
    np.testing.assert_allclose(
        read_by_opencolorio(written(lut), far, interpolation), far, atol=1e-6
    )


@pytest.mark.parametrize("interpolation", INTERPOLATIONS)
def test_near_the_axis_each_channel_goes_through_its_curve(
    axis, curve, interpolation, written, read_by_opencolorio
):
    near = GREYS[1:-1] + np.random.default_rng(3).uniform(-0.015, 0.015, GREYS[1:-1].shape)
    near = np.clip(near, 0, 1)
    assert np.ptp(near, axis=1).max() < NEAR - 2 / 32
    read = read_by_opencolorio(written(lut_3d(axis, 33)), near, interpolation)
    assert np.abs(read - curve.apply(near)).max() < 0.003


def test_in_between_the_share_of_the_correction_falls_steadily(axis):
    """Along a line of one red value away from the axis."""
    lut = lut_3d(axis, 65)
    at = 32
    change = lut.table[at, : at + 1, at, 0] - at / 64
    share = change[::-1] / change[-1]
    assert share[0] == 1.0
    assert share[-1] < 0.35
    assert np.all(np.diff(share) <= 1e-12)


def darkening(exponent):
    """A curve that is nearly level in the shadows and far below no change in the midtones."""
    v = np.linspace(0.0, 1.0, 2041)
    curve = Curve(v, np.repeat((v**exponent)[:, np.newaxis], 3, axis=1), np.zeros((2041, 3)), v)
    return GreyAxis.of(curve, lambda device: 100 * device)


@pytest.mark.parametrize("exponent", [0.3, 0.5, 1.6, 2.5])
def test_no_channel_turns_back(exponent):
    """A picture's smooth colours stay in order, however far the curve lies from no change."""
    lut = lut_3d(darkening(exponent), 33)
    for channel in range(3):
        assert np.diff(lut.table[..., channel], axis=channel).min() >= -1e-9


def test_a_channel_that_runs_backwards_does_not_fold_the_table(read_by_opencolorio, written):
    """By the determinant of its Jacobian, and read on the axis as ever."""
    v = np.linspace(0.0, 1.0, 2041)[:, np.newaxis]
    wave = np.sin(2 * np.pi * v) / (2 * np.pi)
    sent = np.hstack([v, v - 0.5 * wave, v + 1.3 * wave])
    assert np.diff(sent, axis=0).min() < 0
    levels = v[:, 0]
    axis = GreyAxis.of(Curve(levels, sent, np.zeros((2041, 3)), v), lambda device: 100 * device)
    lut = lut_3d(axis, 33)
    red, green, blue = backwards(levels, sent)
    assert red is green is None
    falling = levels[np.gradient(sent[:, 2]) < 0]
    assert blue == pytest.approx((falling.min(), falling.max()), abs=0.002)
    slopes = np.stack([np.gradient(lut.table, axis=c) for c in range(3)], axis=-1)
    determinant = np.linalg.det(32 * slopes)
    # Nought where less than no ink, or more than all, would be wanted.
    assert determinant.min() >= -1e-9
    on_axis = np.arange(1, 32)
    assert determinant[on_axis, on_axis, on_axis].min() > 0.5
    read = read_by_opencolorio(written(lut), GREYS, "linear")
    wanted = np.column_stack([np.interp(GREYS[:, 0], levels, channel) for channel in sent.T])
    assert np.abs(read - wanted).max() < 0.003


def test_a_strong_curve_fades_over_a_longer_way():
    assert lut_3d(darkening(1.1), 33).far == FAR[0]
    assert lut_3d(darkening(2.5), 33).far > FAR[0]


def test_no_correction_is_no_change():
    np.testing.assert_allclose(
        lut_3d(GreyAxis.of(unchanged(), lambda device: 100 * device), 17).table[3, 9, 14],
        np.array([3, 9, 14]) / 16,
        atol=1e-12,
    )


def test_by_luminance_a_toned_monochrome_prints_as_its_grey(
    axis, curve, written, read_by_opencolorio
):
    """Encoded in gamma 2.2; luminance of the sRGB primaries (ITU-R BT.709: 0.2126, 0.7152, 0.0722),
    computed by another library."""
    import colour

    levels = np.linspace(0.05, 0.9, 50)
    tint = np.array([0.06, 0.0, -0.08])
    toned = np.clip(levels[:, np.newaxis] + tint * np.sin(np.pi * levels)[:, np.newaxis], 0, 1)
    space = colour.RGB_COLOURSPACES["sRGB"]
    Y = colour.RGB_luminance(toned**2.2, space.primaries, space.whitepoint)
    lut = by_luminance(axis, 65)
    grey = np.repeat((Y ** (1 / 2.2))[:, np.newaxis], 3, axis=1)
    read = read_by_opencolorio(written(lut), toned, "tetrahedral")
    assert np.abs(read - curve.apply(grey)).max() < 0.006


def test_by_luminance_a_pure_colour_prints_as_its_grey(axis, curve):
    lut = by_luminance(axis, 33)
    level = 0.0722 ** (1 / 2.2)
    blue = lut.table[0, 0, -1]
    np.testing.assert_allclose(blue, curve.apply([level] * 3), atol=0.006)


def kinked(curve):
    """The curve with a kink, as where another ink sets in, and a jump out of blocked shadows."""
    v = curve.levels
    bent = curve.rgb + 0.3 * np.maximum(v - 0.37, 0.0)[:, np.newaxis] * (1 - v[:, np.newaxis])
    lifted = bent + 0.05 * (1 - np.exp(-v / 0.004))[:, np.newaxis] * (1 - v[:, np.newaxis])
    return dataclasses.replace(curve, rgb=np.clip(lifted, 0.0, 1.0))


def test_as_many_nodes_as_the_curve_needs(make_curve, curve, printer_lab):
    gentle = GreyAxis.of(make_curve(0.05), printer_lab)
    assert choose_size(gentle) == 33
    assert gentle.difference(even_knots(33)) < CLOSE_ENOUGH
    assert choose_size(GreyAxis.of(kinked(curve), printer_lab)) == 65


def test_every_reader_takes_it_as_one_plain_3d_lut(curve, printer_lab, written):
    """Also of a curve with kinks: nothing but nodes stands in it, as `colour` reads them."""
    import colour

    lut = lut_3d(GreyAxis.of(kinked(curve), printer_lab), 65)
    path = written(lut)
    read = colour.read_LUT(str(path))
    assert isinstance(read, colour.LUT3D)
    np.testing.assert_allclose(read.table, lut.table, atol=1e-7)
    assert "LUT_1D_SIZE" not in path.read_text(encoding="ascii")


@pytest.mark.parametrize("size", [8, 66])
def test_sizes_out_of_range_are_refused(axis, size):
    with pytest.raises(ValueError, match="9 to 65"):
        choose_size(axis, size)
