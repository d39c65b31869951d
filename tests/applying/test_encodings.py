"""A picture's values become the levels that the correction expects, by published formulas."""

from dataclasses import replace
from io import BytesIO

import colour
import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms
from support.corrections import correction_with, curve_against, unchanged
from support.picture_files import (
    SRGB,
    codes,
    exif,
    gamma_profile,
    jpeg_bytes,
    png_bytes,
    tiff,
    with_chunk,
)

from greyscale.aims.tone import named_encoding, tone_aim
from greyscale.applying.apply import ApplyOptions, apply_correction, working_space
from greyscale.applying.bands import conversion_of
from greyscale.base.errors import BadInput
from greyscale.pictures.formats import read_picture

VALUES = np.linspace(0, 1, 1001)
RAMP = np.linspace(0, 65535, 1200).astype(np.uint16)[np.newaxis].repeat(3, axis=0)
WIDE = [0.64, 0.33, 1, 0.21, 0.71, 1, 0.15, 0.06, 1]
"""Primaries of IEC 61966-2-5, opRGB."""


def lstar_of(Y):
    """CIE 15:2018, by another library, 0 to 1."""
    return colour.colorimetry.lightness_CIE1976(np.asarray(Y) * 100, 100) / 100


LUMINANCE = {
    "lstar": lambda v: colour.colorimetry.luminance_CIE1976(v * 100) / 100,
    "srgb": colour.models.eotf_sRGB,
    "gamma-1.8": lambda v: v**1.8,
    "gamma-2.2": lambda v: v**2.2,
    "gamma-2.4": lambda v: v**2.4,
}


@pytest.mark.parametrize("name", LUMINANCE)
def test_named_encodings_are_the_published_ones_both_ways(name):
    encoding = named_encoding(name)
    Y = LUMINANCE[name](VALUES)
    np.testing.assert_allclose(encoding.luminance(VALUES), Y, atol=2e-6)
    np.testing.assert_allclose(encoding.values(encoding.luminance(VALUES)), VALUES, atol=2e-6)


@pytest.mark.parametrize("scaling", ["linear", "black-point"])
def test_the_encoding_of_a_table_is_the_table_unfitted(scaling, tmp_path):
    """An aim from a table prints, fitted to the print; of the picture it is the table itself."""
    table = tmp_path / "aim.csv"
    table.write_text("level,L\n" + "".join(f"{v},{100 * v**1.3}\n" for v in np.linspace(0, 1, 41)))
    aim = tone_aim(table)
    curve = curve_against()
    fitted = aim.target(curve.levels, 16.0, 96.0, scaling)
    correction = correction_with(
        curve, aim=str(table), scaling=scaling, aim_lab=fitted[:, np.newaxis] * [1.0, 0.0, 0.0]
    )
    table.unlink()
    Y = LUMINANCE["lstar"](VALUES**1.3)
    np.testing.assert_allclose(correction.picture_encoding.luminance(VALUES), Y, atol=2e-4)


def test_the_encoding_of_density_goes_from_black_to_white():
    curve = curve_against()
    L = tone_aim("density").target(curve.levels, 16.0, 96.0)
    correction = correction_with(curve, aim="density", aim_lab=L[:, np.newaxis] * [1.0, 0, 0])
    encoding = correction.picture_encoding
    assert encoding.luminance(np.array([0.0, 1.0])).tolist() == [0.0, 1.0]
    found = lstar_of(encoding.luminance(VALUES)) * (96 - 16) + 16
    np.testing.assert_allclose(found, np.interp(VALUES, curve.levels, L), atol=1e-3)


def levels_in(correction, path, **options):
    """What comes out of a correction that changes nothing: the levels that went in."""
    target = path.with_name(f"out{path.suffix}")
    apply_correction(correction, path.parent, path, target, ApplyOptions(**options))
    if path.suffix == ".tif":
        return tifffile.imread(target) / 65535
    return np.asarray(Image.open(target)) / 255


NOTHING = {name: correction_with(unchanged(), aim=name) for name in ("lstar", "srgb", "gamma-2.2")}


@pytest.mark.parametrize("aim", NOTHING)
@pytest.mark.parametrize("name", LUMINANCE)
def test_stated_encodings_are_converted(aim, name, tmp_path):
    path = tiff(tmp_path / "a.tif", RAMP)
    levels = levels_in(NOTHING[aim], path, encoding=name)
    Y = LUMINANCE[name](RAMP / 65535)
    # Compared as L*, 0 to 1: near black a power's own values are steeper than 16 bits are fine.
    np.testing.assert_allclose(lstar_of(LUMINANCE[aim](levels)), lstar_of(Y), atol=5e-5)


@pytest.mark.parametrize("gamma", [1.8, 2.2])
@pytest.mark.parametrize("colours", [1, 3])
def test_a_profile_is_followed_grey_and_rgb(gamma, colours, tmp_path):
    """16 bits to two codes of L*; the profile's gamma is kept with 8 bits behind the point."""
    pixels = RAMP if colours == 1 else np.repeat(RAMP[..., np.newaxis], 3, axis=2)
    path = tiff(tmp_path / "a.tif", pixels, iccprofile=gamma_profile(colours, gamma))
    levels = levels_in(NOTHING["lstar"], path)
    expected = lstar_of((RAMP / 65535) ** gamma)
    expected = expected if colours == 1 else np.repeat(expected[..., np.newaxis], 3, axis=2)
    np.testing.assert_allclose(levels, expected, atol=1.2e-3 * gamma / 2.2)
    np.testing.assert_allclose(levels, expected, atol=4e-5)


def test_colours_go_through_the_profile_to_srgbs_primaries(tmp_path):
    """opRGB to sRGB and on to L*, by the matrices of `colour`."""
    pixels = (codes((30, 40, 3), "uint16") // 4 + 20_000).astype(np.uint16)
    path = tiff(
        tmp_path / "a.tif", pixels, photometric="rgb", iccprofile=gamma_profile(3, 2.2, WIDE)
    )
    linear = (pixels / 65535) ** 2.2
    # opRGB's primaries and white, IEC 61966-2-5:2007 (memory).
    primaries, white = [[0.64, 0.33], [0.21, 0.71], [0.15, 0.06]], [0.3127, 0.3290]
    wide = colour.normalised_primary_matrix(primaries, white)
    expected = (
        linear @ (np.linalg.inv(colour.models.RGB_COLOURSPACE_sRGB.matrix_RGB_to_XYZ) @ wide).T
    )
    found = levels_in(NOTHING["lstar"], path)
    np.testing.assert_allclose(found, lstar_of(np.clip(expected, 0, 1)), atol=6e-4)


def test_greys_among_colours_come_out_as_greys_alone_do(tmp_path):
    """A band that is all grey goes along a table, another through Little CMS."""
    grey = np.repeat(RAMP[..., np.newaxis], 3, axis=2)
    mixed = grey.copy()
    mixed[0, 0] = [20_000, 30_000, 40_000]
    profile = gamma_profile(3, 2.2, WIDE)
    found = []
    for pixels in (grey, mixed):
        path = tiff(tmp_path / "a.tif", pixels, photometric="rgb", iccprofile=profile)
        found.append(levels_in(NOTHING["lstar"], path)[1:])
    assert np.abs(found[0] - found[1]).max() <= 3 / 65535


def test_a_picture_in_the_right_encoding_is_not_touched(tmp_path):
    pixels = codes((30, 40, 3), "uint16")
    path = tiff(tmp_path / "a.tif", pixels, photometric="rgb", iccprofile=SRGB)
    found = levels_in(NOTHING["srgb"], path) * 65535
    np.testing.assert_array_equal(np.round(found), pixels)


@pytest.mark.parametrize(
    ("content", "encoding"),
    [((b"sRGB", b"\0"), "srgb"), ((b"gAMA", (45455).to_bytes(4, "big")), "gamma-2.2")],
)
def test_a_png_without_profile_may_say_its_encoding(content, encoding, tmp_path):
    path = tmp_path / "a.png"
    pixels = (RAMP >> 8).astype(np.uint8)
    path.write_bytes(with_chunk(png_bytes(pixels), *content))
    expected = lstar_of(LUMINANCE[encoding](pixels / 255))
    assert np.abs(levels_in(NOTHING["lstar"], path) - expected).max() < 1.01 / 255


def test_a_camera_jpeg_is_srgb(tmp_path):
    path = tmp_path / "a.jpg"
    path.write_bytes(jpeg_bytes((RAMP >> 8).astype(np.uint8).repeat(8, axis=0), exif=exif()))
    expected = lstar_of(LUMINANCE["srgb"](RAMP / 65535))[0]
    assert np.abs(levels_in(NOTHING["lstar"], path).mean(axis=0) - expected).max() < 2.5 / 255


def test_an_untagged_picture_needs_a_word(tmp_path):
    path = tiff(tmp_path / "a.tif", RAMP)
    with pytest.raises(BadInput, match=r"give --encoding: srgb, as pictures.*or lstar if"):
        levels_in(NOTHING["lstar"], path)
    with pytest.raises(BadInput, match="encoding 'wide' is not known; take one of lstar, srgb"):
        levels_in(NOTHING["lstar"], path, encoding="wide")
    profile = tmp_path / "own.icc"
    profile.write_bytes(gamma_profile(1, 1.8))
    expected = lstar_of((RAMP / 65535) ** 1.8)
    found = levels_in(NOTHING["lstar"], path, encoding=str(profile))
    np.testing.assert_allclose(found, expected, atol=1e-3)


def test_profiles_that_do_not_fit_are_refused(tmp_path):
    path = tiff(
        tmp_path / "a.tif", codes((5, 6, 3), "uint8"), photometric="rgb",
        iccprofile=gamma_profile(1, 2.2),
    )  # fmt: skip
    with pytest.raises(BadInput, match=r"picture is RGB and its colour profile .* is for grey"):
        levels_in(NOTHING["lstar"], path)
    tiff(path, codes((5, 6), "uint8"), iccprofile=SRGB[:300])
    with pytest.raises(BadInput, match="profile"):
        levels_in(NOTHING["lstar"], path)


def test_a_grey_picture_may_carry_a_profile_of_rgb(tmp_path):
    path = tiff(tmp_path / "a.tif", RAMP, iccprofile=SRGB)
    expected = lstar_of(LUMINANCE["srgb"](RAMP / 65535))
    np.testing.assert_allclose(levels_in(NOTHING["lstar"], path), expected, atol=4e-5)


def test_a_working_space_is_embedded_and_a_printers_values_are_not_tagged(tmp_path):
    path = tiff(tmp_path / "a.tif", RAMP, iccprofile=gamma_profile(1, 2.2))
    for place, profile in (("device", None), ("sRGB", SRGB)):
        correction = replace(NOTHING["srgb"], space=place)
        applied = apply_correction(correction, tmp_path, path, tmp_path / "b.tif")
        found = read_picture(tmp_path / "b.tif").form
        assert applied.profile == (None if profile is None else "sRGB")
        assert (found.profile is None) == (profile is None)
        assert found.colours == (1 if profile is None else 3)
    with Image.open(tmp_path / "b.tif") as image:
        embedded = ImageCms.ImageCmsProfile(BytesIO(image.info["icc_profile"]))
    assert ImageCms.getProfileDescription(embedded).strip() == "sRGB built-in"


def test_values_of_a_space_keep_its_primaries(tmp_path):
    """The picture is in the space already, and encoded as it: nothing moves."""
    pixels = codes((20, 30, 3), "uint16")
    profile = gamma_profile(3, 2.2, WIDE)
    name = read_name(profile)
    path = tiff(tmp_path / "a.tif", pixels, photometric="rgb", iccprofile=profile)
    correction = replace(NOTHING["gamma-2.2"], space=name)
    found = levels_in(correction, path) * 65535
    assert np.abs(found - pixels).max() <= 1.5
    assert read_picture(tmp_path / "out.tif").form.profile == profile


def read_name(profile: bytes) -> str:
    from greyscale.pictures.colour_profiles import colour_profile

    return colour_profile(profile, "x").name


def test_a_working_space_is_found_by_file_by_name_or_in_the_picture(tmp_path):
    profile = gamma_profile(3, 2.2, WIDE)
    file = tmp_path / "wide.icc"
    file.write_bytes(profile)
    named = replace(NOTHING["srgb"], space="Wide of the workshop")
    assert working_space(named, None, file).data == profile
    assert working_space(replace(named, space=str(file)), None).data == profile
    assert working_space(replace(named, space=read_name(profile).upper()), profile).data == profile
    assert working_space(replace(named, space="srgb"), None).name == "sRGB"
    with pytest.raises(BadInput, match="give its file with --space"):
        working_space(named, profile)
    with pytest.raises(BadInput, match="straight to the printer"):
        working_space(replace(named, space="device"), None, file)
    file.write_bytes(gamma_profile(1, 2.2))
    with pytest.raises(BadInput, match="is for grey"):
        working_space(named, None, file)


def test_a_profile_whose_greys_are_tinted_goes_through_whole(tmp_path):
    """A scanner's profile: equal channels are no grey, and the table of greys does not serve."""
    import imagecodecs

    curves = np.stack([np.linspace(0, 1, 256) ** gamma for gamma in (1.8, 2.2, 2.0)])
    tinted = imagecodecs.cms_profile(
        "rgb", whitepoint=[0.3127, 0.3290, 1.0],
        primaries=[0.64, 0.33, 1, 0.30, 0.60, 1, 0.15, 0.06, 1],
        transferfunction=curves.astype(np.float32),
    )  # fmt: skip
    path = tiff(
        tmp_path / "a.tif", np.repeat(RAMP[..., np.newaxis], 3, axis=2), photometric="rgb",
        iccprofile=tinted,
    )  # fmt: skip
    conversion = conversion_of(read_picture(path), named_encoding("lstar"), None)
    assert not conversion.greys_are_grey
    levels = levels_in(NOTHING["lstar"], path)
    assert np.ptp(levels[0, 600]) > 0.02
