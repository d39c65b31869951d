"""A control strip in a picture's margin, found again in the file by libraries of others.

The picture is written by tifffile or Pillow and read back by them; the print of the strip is
simulated by a printer that the code under test does not see.
"""

from __future__ import annotations

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageOps
from support.corrections import NEXT_ROUND, correction_with, curve_against, printed
from support.picture_files import exif, tiff

from greyscale.applying.apply import ApplyOptions, apply_correction
from greyscale.applying.strip import FEWEST, MOST
from greyscale.base.errors import BadInput
from greyscale.correction.verify import verify
from greyscale.readings.layout import read_layout
from greyscale.readings.reading import Reading

MADE = correction_with(curve_against())
DPI = 100
WIDTH, HEIGHT = 500, 400  # 127 mm by 102 mm.
BARE = 65535


def picture(dark: float = 0.2, light: float = 0.4) -> np.ndarray:
    """A ramp from left to right that holds the tones between two levels alone."""
    row = np.linspace(dark, light, WIDTH) * BARE
    return np.repeat(row[np.newaxis], HEIGHT, axis=0).astype(np.uint16)


def with_strip(tmp_path, side: str, pixels: np.ndarray | None = None, name="out.tif", **options):
    path = tiff(
        tmp_path / "in.tif",
        picture() if pixels is None else pixels,
        resolution=(DPI, DPI),
        resolutionunit=2,
        **options,
    )
    wanted = ApplyOptions(encoding="lstar", strip=side)
    applied = apply_correction(MADE, tmp_path, path, tmp_path / name, wanted)
    return tifffile.imread(applied.path), read_layout(applied.layout)


def tones_in(strip: np.ndarray) -> np.ndarray:
    """The patches of a strip that lies along the rows, from left to right; paper is none."""
    row = strip[len(strip) // 2].astype(float)
    differs = np.flatnonzero(np.abs(np.diff(row[:, 0])) > 0)
    borders = zip(differs[::2], differs[1::2], strict=True)
    return np.array([row[(left + right + 1) // 2] for left, right in borders])


@pytest.mark.parametrize("side", ["below", "above", "left", "right"])
def test_it_lies_on_its_side_and_the_picture_stays_as_it_is_without(tmp_path, side):
    without = apply_correction(
        MADE, tmp_path, tiff(tmp_path / "plain.tif", picture()), tmp_path / "plain-out.tif",
        ApplyOptions(encoding="lstar"),
    )  # fmt: skip
    plain = tifffile.imread(without.path)
    pixels, layout = with_strip(tmp_path, side)
    strip, rest = {
        "below": (pixels[HEIGHT:], pixels[:HEIGHT]),
        "above": (pixels[:-HEIGHT], pixels[-HEIGHT:]),
        "left": (pixels[:, :-WIDTH].swapaxes(0, 1), pixels[:, -WIDTH:]),
        "right": (pixels[:, WIDTH:].swapaxes(0, 1), pixels[:, :WIDTH]),
    }[side]
    np.testing.assert_array_equal(rest, plain)
    # The last is bare paper, and has no border.
    sent = MADE.curve.apply(layout.device)[:-1]
    np.testing.assert_allclose(tones_in(strip), sent * BARE, atol=2)
    assert (strip[[0, -1]] == BARE).all()


def test_its_tones_are_where_the_picture_is(tmp_path):
    """Black and paper, and of the rest most lie among the picture's own fifth of all tones."""
    _, layout = with_strip(tmp_path, "below")
    levels = layout.device[:, 0]
    assert FEWEST <= len(levels) <= MOST
    assert (levels[0], levels[-1]) == (0.0, 1.0)
    there = np.mean((levels > 0.15) & (levels < 0.45))
    assert there >= 0.5
    assert np.all(np.diff(levels) > 0)


def test_its_tones_are_where_the_correction_is_least_sure(tmp_path):
    curve = curve_against()
    sd = np.where(np.abs(curve.levels - 0.7)[:, np.newaxis] < 0.1, 1.5, 0.05).repeat(3, axis=1)
    unsure = correction_with(type(curve)(curve.levels, curve.rgb, curve.lab, sd))
    path = tiff(tmp_path / "in.tif", picture(0.0, 1.0), resolution=(DPI, DPI), resolutionunit=2)
    options = ApplyOptions(encoding="lstar", strip="below")
    applied = apply_correction(unsure, tmp_path, path, tmp_path / "out.tif", options)
    levels = read_layout(applied.layout).device[:, 0]
    assert np.sum(np.abs(levels - 0.7) < 0.1) >= len(levels) / 3


def test_below_is_below_however_the_picture_is_turned(tmp_path):
    """EXIF: a picture that is stored on its side; Pillow turns it as it is looked at."""
    for orientation in range(1, 9):
        turn = exif()
        turn[0x0112] = orientation
        path = tmp_path / f"{orientation}.jpg"
        grey = Image.fromarray((picture() >> 8).astype(np.uint8))
        grey.save(path, "JPEG", quality=95, exif=turn.tobytes(), dpi=(DPI, DPI))
        options = ApplyOptions(encoding="lstar", strip="below")
        out = tmp_path / f"{orientation}-out.png"
        apply_correction(MADE, tmp_path, path, out, options)
        with Image.open(out) as image:
            seen = np.asarray(ImageOps.exif_transpose(image).convert("L"))
        rows = seen[-(len(seen) // 20) : -2]
        assert rows.min() < 80, orientation
        assert (seen[-1] >= 254).all()
        first = np.flatnonzero(rows[0] < 254)
        # Black comes first, at the left.
        assert rows[0][first[5]] < rows[0][first[-5]], orientation


def test_a_print_of_it_proves_the_correction(tmp_path, monkeypatch):
    """What was sent for its patches is printed, read with noise, and held against the promise."""
    monkeypatch.setattr("greyscale.correction.verify.next_round", lambda *given: NEXT_ROUND)
    pixels, layout = with_strip(tmp_path, "below")
    sent = np.vstack([tones_in(pixels[HEIGHT:]) / BARE, [1.0, 1.0, 1.0]])
    noise = np.random.default_rng(2).normal(0.0, 0.1, sent.shape)
    reading = Reading(
        name="strip",
        source="strip.txt",
        ids=layout.ids,
        device=layout.device,
        lab=printed(sent) + noise,
        condition="M1",
        backing="white",
        sent_through=layout.fields["CHART_THROUGH"],
    )
    found = verify(reading, MADE)
    assert found.accidents == ()
    assert found.prediction_error.as_stated
    assert found.prediction_error.max_delta_E00 < 0.5


def test_what_has_no_room_is_refused_and_leaves_nothing(tmp_path):
    with pytest.raises(BadInput, match="is 15 mm long, and a strip of 9 tones needs 73"):
        with_strip(tmp_path, "left", picture()[:60])
    assert [path.name for path in tmp_path.iterdir()] == ["in.tif"]


@pytest.mark.parametrize("kind", [np.uint8, np.float32])
def test_other_depths_and_transparency(tmp_path, kind):
    whole = 1.0 if kind == np.float32 else 255
    rgba = np.full((HEIGHT, WIDTH, 4), 0.5 * whole).astype(kind)
    pixels, layout = with_strip(tmp_path, "below", rgba, photometric="rgb", extrasamples=[2])
    strip = pixels[HEIGHT:]
    assert (strip[..., 3] == whole).all()
    sent = MADE.curve.apply(layout.device) * whole
    patch = strip[len(strip) // 2]
    darkest = patch[np.argmin(patch[:, 0]), :3]
    np.testing.assert_allclose(darkest, sent[0], atol=1.01 if kind == np.uint8 else 1e-5)
