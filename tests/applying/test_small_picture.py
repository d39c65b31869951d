"""A picture made small keeps its light, lies upright, and counts all of its tones."""

import colour
import numpy as np
import pytest
import tifffile
from PIL import Image, ImageOps
from support.picture_files import codes, gamma_profile, tiff

from greyscale.aims.tone import named_encoding
from greyscale.applying.preview import small_picture

LSTAR = named_encoding("lstar")


def lstar_of(Y):
    return colour.colorimetry.lightness_CIE1976(np.asarray(Y) * 100, 100) / 100


def test_fine_black_and_white_looks_as_light_as_it_is(tmp_path):
    """Half the light is L* 76.07, not 50: averages are of light (CIE 15:2018)."""
    y, x = np.mgrid[0:600, 0:800]
    path = tiff(tmp_path / "a.tif", (((x + y) % 2) * 65535).astype(np.uint16))
    small = small_picture(path, LSTAR, "lstar", 100)
    assert small.levels.shape == (75, 100)
    np.testing.assert_allclose(small.levels, lstar_of(0.5), atol=1e-3)
    assert small.shares[[0, 255]].tolist() == [0.5, 0.5]


@pytest.mark.parametrize("shape", [(601, 797), (797, 601), (2000, 31), (37, 2003)])
def test_the_mean_light_is_kept_whatever_the_size(shape, tmp_path):
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
    light = 0.2 + 0.6 * (x / shape[1]) * (y / shape[0])
    pixels = np.round(LSTAR.values(light) * 65535).astype(np.uint16)
    path = tiff(tmp_path / "a.tif", pixels, rowsperstrip=13, compression="lzw")
    small = small_picture(path, LSTAR, "lstar", 150)
    assert max(small.levels.shape) == 150
    assert LSTAR.luminance(small.levels).mean() == pytest.approx(light.mean(), rel=0.01)


def test_a_picture_that_is_small_already_is_not_touched(tmp_path):
    pixels = codes((20, 30), "uint16")
    path = tiff(tmp_path / "a.tif", pixels)
    small = small_picture(path, LSTAR, "lstar", 100)
    np.testing.assert_allclose(small.levels * 65535, pixels, atol=0.6)
    assert small.pixels == 600


@pytest.mark.parametrize("lies", range(1, 9))
def test_it_lies_as_pillow_turns_it(lies, tmp_path):
    pixels = codes((20, 30), "uint8")
    path = tmp_path / "a.png"
    turned = Image.Exif()
    turned[274] = lies
    Image.fromarray(pixels).save(path, exif=turned)
    with Image.open(path) as image:
        expected = np.asarray(ImageOps.exif_transpose(image))
    found = small_picture(path, LSTAR, "lstar", 100).levels * 255
    np.testing.assert_allclose(found, expected, atol=0.01)


def test_colours_are_as_light_as_their_luminance(tmp_path):
    """IEC 61966-2-1, by `colour`: with a profile, and with the encoding stated."""
    pixels = codes((20, 30, 3), "uint8")
    Y = colour.sRGB_to_XYZ(pixels / 255)[..., 1]
    path = tiff(tmp_path / "a.tif", pixels, photometric="rgb")
    found = small_picture(path, LSTAR, "srgb", 100).levels
    np.testing.assert_allclose(found, lstar_of(Y), atol=1e-3)
    tiff(path, pixels, photometric="rgb", iccprofile=gamma_profile(3, 2.2))
    # A profile has its colours adapted to D50 (ISO 15076-1), which moves luminance a little.
    space, D50 = colour.RGB_COLOURSPACES["sRGB"], [0.34567, 0.35850]
    Y = colour.RGB_to_XYZ((pixels / 255) ** 2.2, space, D50, "Bradford")[..., 1]
    found = small_picture(path, LSTAR, None, 100).levels
    np.testing.assert_allclose(found, lstar_of(Y), atol=1e-3)


@pytest.mark.parametrize("kind", ["unassalpha", "assocalpha"])
def test_what_is_transparent_shows_the_paper(kind, tmp_path):
    pixels = np.zeros((10, 10, 4), np.uint8)
    pixels[:5, :, 3] = 255
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, pixels, photometric="rgb", extrasamples=[kind], metadata=None)
    levels = small_picture(path, LSTAR, "lstar", 100).levels
    assert levels[:5].max() == 0
    assert levels[5:].min() == 1


def test_shares_are_numpys_histogram(tmp_path):
    pixels = codes((300, 200), "uint8")
    path = tiff(tmp_path / "a.tif", pixels)
    shares = small_picture(path, LSTAR, "lstar", 40).shares
    np.testing.assert_allclose(shares, np.bincount(pixels.ravel(), minlength=256) / pixels.size)
