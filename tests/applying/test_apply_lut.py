"""A picture that was sent through a correction is what NumPy and OpenColorIO make of its LUT."""

import numpy as np
import pytest
import tifffile
from PIL import Image
from support.corrections import apply_lut, correction_with, curve_against, printed, unchanged
from support.picture_files import codes, pixels_of, png_bytes, tiff

from greyscale.applying.apply import ApplyOptions, apply_correction
from greyscale.applying.bands import dithered
from greyscale.correction.folder import write_files

LSTAR = ApplyOptions(encoding="lstar")
SMOOTH = np.linspace(0, 65535, 600).astype(np.uint16)[np.newaxis].repeat(40, axis=0)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A correction and its folder."""
    folder = tmp_path_factory.mktemp("correction")
    correction = correction_with(curve_against())
    write_files(correction, folder, printed)
    return correction, folder


def through(made, path, target, options=LSTAR, **changes):
    from dataclasses import replace

    return apply_correction(*made, path, target, replace(options, **changes))


@pytest.mark.parametrize("shape", [(40, 600), (40, 600, 3)])
@pytest.mark.parametrize("storage", [{}, {"tile": (32, 32), "compression": "lzw"}])
def test_16_bits_are_the_curve_to_two_codes(made, shape, storage, tmp_path):
    """By NumPy's interpolation of the curve, and by OpenColorIO reading correction-1d.cube."""
    pixels = codes(shape, "uint16")
    path = tiff(tmp_path / "a.tif", pixels, **storage)
    through(made, path, tmp_path / "b.tif")
    found = tifffile.imread(tmp_path / "b.tif").astype(float)
    rgb = pixels if len(shape) == 3 else np.repeat(pixels[..., np.newaxis], 3, axis=2)
    curve = made[0].curve
    levels = np.linspace(0, 1, len(curve.rgb))
    for c in range(3):
        by_numpy = np.interp(rgb[..., c] / 65535, levels, curve.rgb[:, c])
        assert np.abs(found[..., c] - by_numpy * 65535).max() <= 2
    by_ocio = apply_lut(made[1] / "correction-1d.cube", (rgb / 65535).reshape(-1, 3))
    assert np.abs(found.reshape(-1, 3) - by_ocio * 65535).max() <= 2


def test_floats_are_the_curve_and_held_at_its_ends(made, tmp_path):
    pixels = np.linspace(-0.5, 1.5, 3000, dtype=np.float32).reshape(10, 100, 3)
    path = tiff(tmp_path / "a.tif", pixels, photometric="rgb")
    applied = through(made, path, tmp_path / "b.tif")
    found = tifffile.imread(tmp_path / "b.tif")
    assert (found.dtype, applied.bits) == (np.float32, 32)
    np.testing.assert_allclose(found, made[0].curve.apply(pixels), atol=1e-6)


def test_the_3d_lut_is_that_of_opencolorio(made, tmp_path):
    pixels = codes((40, 50, 3), "uint16")
    path = tiff(tmp_path / "a.tif", pixels, photometric="rgb")
    through(made, path, tmp_path / "b.tif", lut="3d")
    expected = apply_lut(
        made[1] / "correction-3d.cube", (pixels / 65535).reshape(-1, 3), "tetrahedral"
    )
    found = tifffile.imread(tmp_path / "b.tif").reshape(-1, 3)
    assert np.abs(found - expected * 65535).max() <= 2


def test_colour_is_noticed_and_the_3d_lut_advised(made, tmp_path):
    colour, grey = tmp_path / "a.tif", tmp_path / "g.tif"
    tiff(colour, codes((40, 50, 3), "uint8"), photometric="rgb")
    tiff(grey, np.repeat(codes((40, 50, 1), "uint8"), 3, axis=2), photometric="rgb")
    assert "--lut 3d" in through(made, colour, tmp_path / "b.tif").remarks[0]
    assert through(made, colour, tmp_path / "b.tif", lut="3d").remarks == ()
    assert through(made, grey, tmp_path / "b.tif").remarks == ()


def test_a_grey_picture_stays_grey_where_the_correction_lets_it(tmp_path):
    made = correction_with(unchanged()), tmp_path
    path = tiff(tmp_path / "a.tif", SMOOTH)
    through(made, path, tmp_path / "b.tif")
    np.testing.assert_array_equal(tifffile.imread(tmp_path / "b.tif"), SMOOTH)


@pytest.mark.parametrize("kind", ["uint8", "uint16", "float32"])
def test_transparency_is_kept_and_colours_beside_it_corrected(made, kind, tmp_path):
    pixels = codes((30, 40, 4), kind)
    path = tiff(tmp_path / "a.tif", pixels, photometric="rgb", extrasamples=["unassalpha"])
    through(made, path, tmp_path / "b.tif")
    found = tifffile.imread(tmp_path / "b.tif")
    np.testing.assert_array_equal(found[..., 3], pixels[..., 3])
    full = 1 if kind == "float32" else np.iinfo(kind).max
    expected = made[0].curve.apply(pixels[..., :3] / full) * full
    assert (
        np.abs(found[..., :3] - expected).max() <= {"uint8": 1, "uint16": 2, "float32": 1e-6}[kind]
    )


def test_colours_multiplied_by_transparency_are_corrected_as_they_would_be_seen(made, tmp_path):
    """A level of 0.6 at half cover is stored as 0.3: it is 0.6 that the curve must be given."""
    pixels = np.zeros((4, 5, 4), np.uint16)
    pixels[..., :3], pixels[..., 3] = round(0.3 * 65535), round(0.5 * 65535)
    pixels[0] = 0
    path = tiff(tmp_path / "a.tif", pixels, photometric="rgb", extrasamples=["assocalpha"])
    through(made, path, tmp_path / "b.tif")
    with tifffile.TiffFile(tmp_path / "b.tif") as file:
        found = file.asarray()
        assert file.pages[0].extrasamples == (1,)
    expected = made[0].curve.apply([0.6, 0.6, 0.6]) * 0.5 * 65535
    assert np.abs(found[1:, :, :3] - expected).max() <= 2
    np.testing.assert_array_equal(found[..., 3], pixels[..., 3])
    np.testing.assert_array_equal(found[0], 0)


def test_further_channels_are_kept(made, tmp_path):
    pixels = codes((10, 12, 6), "uint16")
    path = tiff(tmp_path / "a.tif", pixels, photometric="rgb", planarconfig="contig")
    through(made, path, tmp_path / "b.tif")
    np.testing.assert_array_equal(tifffile.imread(tmp_path / "b.tif")[..., 3:], pixels[..., 3:])


def test_8_bits_keep_the_mean_of_the_curve_and_bare_paper(made, tmp_path):
    """Each column is one level; its mean over 4000 rows is the curve's to its standard error."""
    pixels = np.arange(256, dtype=np.uint8)[np.newaxis].repeat(4000, axis=0)
    path = tmp_path / "a.png"
    path.write_bytes(png_bytes(pixels))
    through(made, path, tmp_path / "b.png")
    found = np.asarray(Image.open(tmp_path / "b.png")).astype(float)
    expected = made[0].curve.apply(np.repeat(np.arange(256)[:, None] / 255, 3, axis=1)) * 255
    assert np.abs(found - expected).max() < 1.01
    assert np.abs(found.mean(axis=0) - expected).max() < 5 * 0.5 / np.sqrt(4000)
    assert (found[:, 255] == 255).all()


def test_a_smooth_ramp_of_8_bits_has_no_bands():
    """Rounded, one code runs over 64 pixels, and steps are edges; dithered, none is seen.

    A run of one code in a dithered ramp is longest where the value is next to a whole code; the
    mean over ten columns then follows the ramp everywhere.
    """
    ramp = np.linspace(10 * 257, 74 * 257, 64 * 64).astype(np.uint16)[np.newaxis]
    found = dithered(ramp.repeat(400, axis=0), np.random.default_rng(1))
    rounded = np.round(ramp / 257)
    assert longest_run(rounded[0]) >= 64
    inner = np.abs(ramp[0] / 257 % 1 - 0.5) < 0.25
    assert max(longest_run(np.where(inner, row, np.arange(row.size) + 1000)) for row in found) < 32
    means = found.mean(axis=0).reshape(-1, 8).mean(axis=1)
    expected = (ramp[0] / 257).reshape(-1, 8).mean(axis=1)
    assert np.abs(means - expected).max() < 5 * 0.5 / np.sqrt(400 * 8)
    assert (np.diff(means) > 0).mean() > 0.99


def longest_run(values) -> int:
    edges = np.flatnonzero(np.diff(values) != 0)
    return int(np.diff(np.concatenate([[-1], edges, [len(values) - 1]])).max())


def test_whole_codes_stay_whole():
    pixels = codes((50, 60, 3), "uint8")
    fine = pixels.astype(np.uint16) * 257
    np.testing.assert_array_equal(dithered(fine, np.random.default_rng(3)), pixels)


def test_the_seed_decides_the_dither(made, tmp_path):
    path = tiff(tmp_path / "a.tif", codes((60, 70), "uint8"))
    written = {}
    for name, seed in (("b", 1), ("c", 1), ("d", 2)):
        through(made, path, tmp_path / f"{name}.tif", seed=seed)
        written[name] = (tmp_path / f"{name}.tif").read_bytes()
    assert written["b"] == written["c"] != written["d"]


def test_16_bits_into_a_jpeg_become_8(made, tmp_path):
    path = tiff(tmp_path / "a.tif", SMOOTH)
    applied = through(made, path, tmp_path / "b.jpg")
    expected = made[0].curve.apply(np.repeat(SMOOTH[0, :, None] / 65535, 3, axis=1)) * 255
    found = pixels_of(tmp_path / "b.jpg").mean(axis=0)
    assert applied.bits == 8
    assert np.abs(found - expected).max() < 1.5


def test_the_form_of_the_file_is_kept(made, tmp_path):
    path = tiff(tmp_path / "a.tif", SMOOTH, compression="zlib", resolution=(360, 360))
    through(made, path, tmp_path / "b.tif")
    with tifffile.TiffFile(tmp_path / "b.tif") as file:
        page = file.pages[0]
        assert page.compression == 8
        assert page.tags["XResolution"].value == (360, 1)
        assert page.photometric == 2
