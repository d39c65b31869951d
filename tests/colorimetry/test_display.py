"""CIELAB under D50 to sRGB, against independent libraries and the standard's own figures."""

import numpy as np
import pytest
from coloraide import Color
from PIL import Image, ImageCms

from greyscale.colorimetry.display import lab_to_srgb


@pytest.fixture(scope="module")
def near_greys():
    """Greys from near black to light, with casts of up to ten units; all drawable."""
    random = np.random.default_rng(20)
    lab = np.column_stack([random.uniform(5, 92, 300), random.uniform(-7, 7, (300, 2))])
    _, clipped = lab_to_srgb(lab)
    assert clipped.mean() < 0.1
    return lab[~clipped]


def test_agrees_with_coloraide(near_greys):
    """coloraide: CSS Color 4's lab (D50) to srgb, Bradford too."""
    expected = np.array([Color("lab", list(lab)).convert("srgb").coords() for lab in near_greys])
    rgb, _ = lab_to_srgb(near_greys)
    # The whites differ in the fourth digit (E308's D50 here, chromaticity .3457, .3585 there).
    np.testing.assert_allclose(255 * rgb, 255 * expected, atol=0.005)


def test_agrees_with_colour(near_greys):
    import colour

    d50 = np.array([96.422, 100.0, 82.521])
    white = colour.XYZ_to_xy(d50)
    xyz = colour.Lab_to_XYZ(near_greys, white)
    expected = colour.XYZ_to_sRGB(xyz, white, chromatic_adaptation_transform="Bradford")
    rgb, _ = lab_to_srgb(near_greys)
    # colour uses the matrix of the standard, rounded to four places.
    np.testing.assert_allclose(255 * rgb, 255 * expected, atol=0.1)


def test_agrees_with_little_cms(near_greys):
    """An ICC-managed program, absolute to the perfect diffuser as D50 white, in 8 bits."""
    encoded = np.column_stack([near_greys[:, 0] * 2.55, near_greys[:, 1:] % 256]).round()
    picture = Image.frombytes("LAB", (len(encoded), 1), encoded.astype(np.uint8).tobytes())
    transform = ImageCms.buildTransform(
        ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB"), "LAB", "RGB",
        ImageCms.Intent.RELATIVE_COLORIMETRIC, ImageCms.Flags.NOOPTIMIZE,
    )  # fmt: skip
    expected = np.asarray(ImageCms.applyTransform(picture, transform), dtype=float)[0]
    signed = (encoded[:, 1:] + 128) % 256 - 128
    rgb, _ = lab_to_srgb(np.column_stack([encoded[:, 0] / 2.55, signed]))
    assert np.max(np.abs(255 * rgb - expected)) <= 1.0


def test_neutral_has_equal_channels_on_the_curve_of_the_standard():
    """Every a* = b* = 0 is R = G = B; Y = 0.21404 is encoded 0.5 (IEC 61966-2-1's curve)."""
    lightness = 116 * np.cbrt(0.21404114) - 16
    lab = np.column_stack([np.linspace(0, 100, 101), np.zeros((101, 2))])
    rgb, clipped = lab_to_srgb(lab)
    assert np.max(np.ptp(rgb, axis=1)) < 1e-9
    assert not clipped.any()
    np.testing.assert_allclose(lab_to_srgb([lightness, 0, 0])[0], 0.5, atol=1e-5)


def test_the_edge_of_the_gamut_is_said_and_kept_within():
    rgb, clipped = lab_to_srgb([[97.0, 1.0, -9.0], [60.0, 1.0, -9.0], [0.0, 0.0, 0.0]])
    assert clipped.tolist() == [True, False, False]
    assert rgb.min() >= 0
    assert rgb.max() <= 1


def test_shapes_are_kept():
    rgb, clipped = lab_to_srgb(np.full((2, 5, 3), 50.0))
    assert rgb.shape == (2, 5, 3)
    assert clipped.shape == (2, 5)
