"""A preview drawn: the print's own colours, casts enlarged, areas hatched, words that say so."""

from dataclasses import replace
from io import BytesIO

import colour
import numpy as np
import pytest
from PIL import Image, ImageCms
from support.picture_files import tiff

from greyscale.analysis.picture import printed_tones
from greyscale.applying.preview import PreviewOptions, preview
from greyscale.readings.lamps import find_light
from greyscale.readings.reading import Reading
from greyscale.reporting.preview_sheet import (
    PERIOD,
    below,
    beside,
    cast_share_words,
    hatch,
    preview_report,
    preview_sheet,
    text_line,
    text_lines,
    write_preview,
)

LEVELS = np.linspace(0, 1, 21)


def reading(tint=(0.0, 0.0)):
    """A ramp from L* 20 to 95 on neutral paper, with a bump of colour around level 0.5."""
    bump = np.exp(-(((LEVELS - 0.5) / 0.12) ** 2))
    lab = np.stack([20 + 75 * LEVELS, tint[0] * bump, tint[1] * bump], axis=-1)
    return Reading(
        "mist on kozo", "kozo.txt", tuple(map(str, range(21))),
        np.repeat(LEVELS[:, np.newaxis], 3, axis=1), lab, paper="kozo", condition="M1",
    )  # fmt: skip


def flat(tmp_path, *levels, size=(240, 320)):
    """Vertical stripes of these levels."""
    stripes = np.repeat(np.asarray(levels), size[1] // len(levels))
    pixels = np.round(np.broadcast_to(stripes, (size[0], stripes.size)) * 65535).astype(np.uint16)
    return tiff(tmp_path / "flat.tif", pixels)


def shown(tmp_path, *levels, tint=(0.0, 0.0)):
    path = flat(tmp_path, *levels)
    return preview(reading(tint), path, find_light("D50"), None, PreviewOptions(encoding="lstar"))


def srgb_of(lab):
    """Another library's way: CIELAB under D50, Bradford to D65, IEC 61966-2-1."""
    D50, D65 = (np.array(colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name])
                for name in ("D50", "D65"))  # fmt: skip
    xyz = colour.Lab_to_XYZ(lab, D50)
    adapted = colour.chromatic_adaptation(
        xyz, colour.xy_to_XYZ(D50), colour.xy_to_XYZ(D65), transform="Bradford"
    )
    return colour.XYZ_to_sRGB(adapted) * 255


@pytest.mark.parametrize("factor", [1.0, 3.0])
def test_a_tone_is_drawn_in_the_colour_that_it_prints_in(factor, tmp_path):
    found = preview_sheet(shown(tmp_path, 0.5, tint=(2.0, -1.0)), factor, False).astype(float)
    middle = found.shape[1] // 4
    drawn = found[150:250, middle - 60 : middle + 60].mean(axis=(0, 1))
    aimed, printed = found[150:250, :middle], found[150:250, -middle:]
    np.testing.assert_allclose(aimed[:, 100:-40].mean(axis=(0, 1)), srgb_of([57.5, 0, 0]), atol=0.3)
    right = printed[:, 60:-120].mean(axis=(0, 1))
    np.testing.assert_allclose(right, srgb_of([57.5, 2.0 * factor, -1.0 * factor]), atol=0.4)
    assert np.ptp(drawn) < 0.3


def test_areas_in_a_cast_are_hatched_and_no_others(tmp_path):
    """Three stripes, of which the middle one lies in a greenish cast."""
    seen = shown(tmp_path, 0.1, 0.5, 0.95, tint=(-3.0, 0.0))
    (cast,), (share,) = seen.sides[1].tones.casts, seen.sides[1].neutrality.casts
    assert share.share == pytest.approx(1 / 3, abs=0.01)
    words = cast_share_words(cast, share)
    assert words.startswith("33 % of the picture: greenish in the mid-tones")
    plain, mapped = (preview_sheet(seen, 1.0, casts) for casts in (False, True))
    below_it = mapped[plain.shape[0] - 60 :, mapped.shape[1] // 2 :]
    rows = below_it[80:300].mean(axis=2)
    dark = (rows < 60).mean(axis=0)
    hatched = np.flatnonzero(dark > 0.05)
    width = 640
    assert 0.25 * width < hatched.size < 0.4 * width
    assert np.ptp(hatched) < 0.4 * width


def test_hatches_are_told_apart_by_how_they_run_not_by_colour():
    patterns = [hatch(index, 4 * PERIOD, 4 * PERIOD) for index in range(7)]
    for i, one in enumerate(patterns):
        assert 0.05 < one.mean() < 0.35
        for other in patterns[:i]:
            assert (one != other).mean() > 0.08


def test_the_words_say_paper_light_and_that_it_is_simulated(tmp_path):
    seen = shown(tmp_path, 0.2, 0.5, tint=(-3.0, 0.0))
    report = preview_report(seen, 4.0, tmp_path / "seen.png")
    aimed, prints, *_ = report.sections[0].blocks
    assert report.title == "On kozo (M1), under D50; casts drawn 4 times as strong as they are."
    assert aimed.text == "as aimed: over this picture, mean ΔCh 0.00, 0 % of it in a cast"
    assert prints.text.startswith("as it prints: over this picture, mean ΔCh")
    assert "Simulated" in report.cautions[0]


def test_it_is_written_as_a_png_that_says_it_is_srgb(tmp_path):
    block = preview_sheet(shown(tmp_path, 0.5), 1.0, False)
    write_preview(block, tmp_path / "p.png")
    with Image.open(tmp_path / "p.png") as image:
        np.testing.assert_array_equal(np.asarray(image), block)
        profile = ImageCms.ImageCmsProfile(BytesIO(image.info["icc_profile"]))
    assert "sRGB" in ImageCms.getProfileDescription(profile)


def test_what_was_read_of_a_proof_is_said_to_be_one(tmp_path):
    proof = replace(reading(), sent_through="Harbour light")
    seen = preview(proof, flat(tmp_path, 0.5), find_light("D50"), None, PreviewOptions("lstar"))
    assert "A proof: printed through the correction 'Harbour light'" in seen.remarks[0]


def test_it_is_the_same_every_time_and_does_not_band(tmp_path):
    ramp = np.linspace(20_000, 26_000, 1000).astype(np.uint16)[np.newaxis].repeat(300, axis=0)
    path = tiff(tmp_path / "ramp.tif", ramp)
    options = PreviewOptions(encoding="lstar")
    seen = preview(reading(), path, find_light("D50"), None, options)
    first, again = (preview_sheet(seen, 1.0, False) for _ in range(2))
    np.testing.assert_array_equal(first, again)
    # Rounded, means of columns would stand up to half a code off a smooth line.
    means = first[100:340, 200:900, 0].mean(axis=0)
    place = np.linspace(-1, 1, means.size)
    line = np.polynomial.Polynomial.fit(place, means, 3)(place)
    assert np.ptp(means) > 10
    assert np.abs(means - line).max() < 5 * 0.5 / np.sqrt(240)


def test_blocks_are_set_beside_and_below_each_other():
    one, other = np.zeros((3, 4, 3), np.uint8), np.zeros((5, 2, 3), np.uint8)
    assert beside([one, other], 2).shape == (5, 8, 3)
    assert below([one, other], 2).shape == (10, 4, 3)
    line = text_line("Harbour", 20.0)
    assert line.min() < 60
    assert line.max() == 255
    assert len(text_lines("a picture of fog over the harbour", 20.0, 120)) > 2 * len(line)


def test_tones_without_a_cast_have_none(tmp_path):
    tones = printed_tones(reading(), find_light("D50"), "fading")
    assert tones.casts == ()
    assert tones.delta_Ch.max() == pytest.approx(0, abs=1e-9)
