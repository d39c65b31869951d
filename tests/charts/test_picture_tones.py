"""Which tones a picture uses, and the chart that follows them."""

import numpy as np
import pytest
import tifffile
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from greyscale.base.errors import BadInput
from greyscale.charts.picture_tones import PictureTones, picture_chart_tones, picture_tones

# A harbour in fog: two thirds water around 0.3, one third sky around 0.75.
_random = np.random.default_rng(0)
FOG = np.clip(
    np.concatenate([_random.normal(0.3, 0.05, (200, 301)), _random.normal(0.75, 0.03, (100, 301))]),
    0,
    1,
)
CODES_8 = np.round(FOG * 255).astype(np.uint8)
CODES_16 = np.round(FOG * 65535).astype(np.uint16)


def _rgb(codes):
    return np.repeat(codes[..., np.newaxis], 3, axis=-1)


def _tiff(path, pixels, **options):
    tifffile.imwrite(path, pixels, **options)


WRITERS = {
    "8-bit grey TIFF": lambda p: _tiff(p, CODES_8),
    "16-bit grey TIFF": lambda p: _tiff(p, CODES_16),
    "16-bit RGB TIFF": lambda p: _tiff(p, _rgb(CODES_16), photometric="rgb"),
    "big-endian": lambda p: _tiff(p, _rgb(CODES_16), photometric="rgb", byteorder=">"),
    "tiles, deflate": lambda p: _tiff(
        p, _rgb(CODES_16), photometric="rgb", tile=(64, 64), compression="zlib", predictor=2
    ),
    "strips, LZW": lambda p: _tiff(
        p, _rgb(CODES_16), photometric="rgb", rowsperstrip=7, compression="lzw"
    ),
    "planes": lambda p: _tiff(
        p,
        np.moveaxis(_rgb(CODES_16), -1, 0),
        photometric="rgb",
        planarconfig="separate",
        compression="zlib",
    ),
    "white is 0": lambda p: _tiff(p, 65535 - CODES_16, photometric="miniswhite"),
    "float": lambda p: _tiff(p, FOG.astype(np.float32)),
    "opaque alpha": lambda p: _tiff(
        p,
        np.dstack([_rgb(CODES_16), np.full(FOG.shape, 65535, np.uint16)]),
        photometric="rgb",
        extrasamples=["unassalpha"],
    ),
    "PNG": lambda p: Image.fromarray(CODES_8).save(p, "PNG"),
    "16-bit PNG": lambda p: Image.fromarray(CODES_16).save(p, "PNG"),
    "RGB PNG": lambda p: Image.fromarray(_rgb(CODES_8)).save(p, "PNG"),
    "palette PNG": lambda p: Image.fromarray(CODES_8).convert("P").save(p, "PNG"),
    "JPEG": lambda p: Image.fromarray(CODES_8).save(p, "JPEG", quality=100),
    "RGB JPEG": lambda p: Image.fromarray(_rgb(CODES_8)).save(p, "JPEG", quality=100),
}


@pytest.mark.parametrize("kind", WRITERS)
def test_the_histogram_is_that_of_numpy_whatever_the_format(kind, tmp_path):
    path = tmp_path / "picture"
    WRITERS[kind](path)
    tones = picture_tones(path)
    expected = np.bincount(CODES_8.ravel(), minlength=256) / CODES_8.size
    loss = 0.002 if "JPEG" in kind else 0.0005
    assert tones.pixels == CODES_8.size
    assert np.abs(tones.shares - expected).max() < loss
    assert tones.shares.sum() == pytest.approx(1)
    assert tones.mean_of(tones.levels, tones.levels) == pytest.approx(FOG.mean(), abs=2e-4)


@pytest.mark.parametrize("bits", [8, 16])
def test_colour_counts_as_the_grey_of_equal_luminance(bits, tmp_path):
    """IEC 61966-2-1: luminance of pure sRGB red, green and blue, encoded again."""
    import colour

    full = 2**bits - 1
    primaries = np.eye(3)[:, np.newaxis] * full
    for rgb, name in zip(primaries, "rgb", strict=True):
        path = tmp_path / f"{name}.tif"
        kind = np.uint8 if bits == 8 else np.uint16
        tifffile.imwrite(path, np.tile(rgb, (8, 8, 1)).astype(kind), photometric="rgb")
        Y = colour.sRGB_to_XYZ(rgb[0] / full)[1]
        level = colour.models.eotf_inverse_sRGB(Y)
        tones = picture_tones(path)
        assert tones.levels[np.argmax(tones.shares)] == pytest.approx(level, abs=0.6 / 255)


def test_transparent_pixels_are_not_counted(tmp_path):
    pixels = np.zeros((10, 10, 4), np.uint8)
    pixels[:5] = (128, 128, 128, 255)
    path = tmp_path / "half.png"
    Image.fromarray(pixels, "RGBA").save(path)
    tones = picture_tones(path)
    assert tones.pixels == 50
    assert tones.shares[128] == 1


def _broken(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    return path


def _saved(tmp_path, name, mode):
    path = tmp_path / name
    Image.new(mode, (20, 20)).save(path)
    return path


BAD = {
    "missing": (lambda t: t / "nothing.tif", "no such file"),
    "a folder": (lambda t: t, "cannot be read"),
    "empty": (lambda t: _broken(t, "a.tif", b""), "empty"),
    "no picture": (lambda t: _broken(t, "a.png", b"a page of text"), "not a picture"),
    "cut PNG": (
        lambda t: _broken(t, "a.png", (WRITERS["PNG"](t / "b"), (t / "b").read_bytes())[1][:3000]),
        "damaged or cut short",
    ),
    "cut JPEG": (
        lambda t: _broken(t, "a.jpg", (WRITERS["JPEG"](t / "b"), (t / "b").read_bytes())[1][:3000]),
        "damaged or cut short",
    ),
    "cut TIFF": (
        lambda t: _broken(
            t, "a.tif", (WRITERS["strips, LZW"](t / "b"), (t / "b").read_bytes())[1][:9000]
        ),
        "damaged or cut short",
    ),
    "cut TIFF, not compressed": (
        lambda t: _broken(
            t, "a.tif", (WRITERS["16-bit RGB TIFF"](t / "b"), (t / "b").read_bytes())[1][:9000]
        ),
        "damaged or cut short",
    ),
    "CMYK JPEG": (lambda t: _saved(t, "a.jpg", "CMYK"), "CMYK"),
    "CMYK TIFF": (lambda t: _saved(t, "a.tif", "CMYK"), "CMYK"),
    "CIELAB TIFF": (lambda t: _saved(t, "a.tif", "LAB"), "CIELAB"),
    "all transparent": (lambda t: _saved(t, "a.png", "RGBA"), "no pixel"),
}


@pytest.mark.parametrize("what", BAD)
def test_bad_pictures_are_refused_with_one_clear_message(what, tmp_path):
    make, says = BAD[what]
    with pytest.raises(BadInput, match=says):
        picture_tones(make(tmp_path))


def test_a_picture_of_numbers_that_are_none_is_refused(tmp_path):
    path = tmp_path / "nan.tif"
    tifffile.imwrite(path, np.full((4, 4), np.nan, np.float32))
    with pytest.raises(BadInput, match="not numbers"):
        picture_tones(path)


@given(st.binary(max_size=300), st.sampled_from([b"", b"II*\0", b"\x89PNG\r\n\x1a\n", b"\xff\xd8"]))
def test_no_bytes_make_a_traceback(tmp_path_factory, content, start):
    path = tmp_path_factory.mktemp("bytes") / "picture"
    path.write_bytes(start + content)
    with pytest.raises(BadInput):
        picture_tones(path)


def test_a_big_tiff_is_read_in_little_memory(tmp_path):
    """24 megapixels of 16-bit RGB are 144 MB; reading them takes a part of that."""
    import subprocess
    import sys

    import imagecodecs

    path = tmp_path / "big.tif"
    rows = np.tile((np.arange(6000) * 10).astype(np.uint16)[:, np.newaxis], (1, 3))
    strip = np.ascontiguousarray(np.broadcast_to(rows, (100, 6000, 3))).tobytes()
    tifffile.imwrite(
        path,
        (imagecodecs.zlib_encode(strip, 1) for _ in range(40)),
        shape=(4000, 6000, 3),
        dtype=np.uint16,
        photometric="rgb",
        rowsperstrip=100,
        compression="zlib",
    )
    script = (
        "import resource, sys\n"
        "from greyscale.charts.picture_tones import picture_tones\n"
        "import tifffile, imagecodecs, PIL.Image\n"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "assert picture_tones(sys.argv[1]).pixels == 24_000_000\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)\n"
    )
    grown = subprocess.run(
        [sys.executable, "-c", script, str(path)], capture_output=True, text=True, check=True
    )
    assert int(grown.stdout) < 80_000


def _tones_of(shares):
    shares = np.asarray(shares, dtype=float)
    return PictureTones("fog.tif", np.linspace(0, 1, 256), shares / shares.sum(), 1000)


def test_shares_between_levels_add_up_wherever_they_are_cut():
    tones = _tones_of(np.random.default_rng(1).random(256))
    for cut in (0.0, 0.1, 0.4567, 1.0):
        assert tones.share_between(0, cut) + tones.share_between(cut, 1) == pytest.approx(1)


@pytest.mark.parametrize(("low", "high"), [(0.2, 0.4), (0.6, 0.7), (0.0, 0.15)])
def test_patches_follow_a_constructed_picture_and_keep_paper_and_black(low, high):
    bins = np.linspace(0, 1, 256)
    plan = picture_chart_tones(_tones_of((bins >= low) & (bins <= high)), 33)
    level = plan.patches.level
    assert level[0] == 0
    assert level[-1] == 1
    inside = (level >= low - 0.02) & (level <= high + 0.02)
    assert inside.mean() > 2.5 * (high - low)
    assert inside.sum() > 0.5 * 33 or inside.sum() >= (high - low) * 255 * 0.5
    assert "picture" in plan.why[0]


def test_other_tones_are_not_let_go():
    bins = np.linspace(0, 1, 256)
    level = picture_chart_tones(_tones_of(np.abs(bins - 0.5) < 0.05), 33).patches.level
    assert np.diff(level).max() < 0.3


def test_a_picture_with_a_white_border_does_not_spend_all_on_white():
    shares = np.full(256, 0.3 / 256)
    shares[-1] += 0.7
    level = picture_chart_tones(_tones_of(shares), 33).patches.level
    assert (level < 0.8).sum() > 16


@given(st.lists(st.floats(0, 1), min_size=256, max_size=256).filter(lambda x: sum(x) > 0))
def test_tones_for_any_picture_are_distinct_and_rising(shares):
    level = picture_chart_tones(_tones_of(shares), 40).patches.level
    assert len(level) == 40
    assert (np.diff(level) > 1e-9).all()
    assert (level[0], level[-1]) == (0, 1)
