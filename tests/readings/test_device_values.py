"""Levels out of RGB, grey and ink values on any scale: the data decide, and it is said."""

import numpy as np
import pytest

from greyscale.base.errors import BadInput
from greyscale.readings.fields import device_values

LEVELS = np.linspace(0, 1, 6)
LIGHTNESS = 15 + 80 * LEVELS


def rgb(values):
    return {name: np.asarray(values, dtype=float) for name in ("RGB_R", "RGB_G", "RGB_B")}


@pytest.mark.parametrize(
    ("full", "words"),
    [(1, "0-1"), (100, "0-100"), (255, "0-255"), (65535, "16 bit (0-65535)")],
)
@pytest.mark.parametrize("lightness", [None, LIGHTNESS])
def test_each_scale_is_known_by_its_end(full, words, lightness):
    found = device_values(rgb(full * LEVELS), "x", lightness=lightness)
    np.testing.assert_allclose(found.values[:, 1], LEVELS)
    assert found.remarks == (f"RGB is on {words} (decided from the data).",)


@pytest.mark.parametrize(("full", "highest"), [(100, 90), (255, 90), (255, 200), (65535, 60000)])
def test_a_chart_that_stops_short_of_white_is_told_by_its_lightness(full, highest):
    values = np.linspace(0, highest, 6)
    found = device_values(rgb(values), "x", lightness=15 + 80 * values / full)
    np.testing.assert_allclose(found.values[:, 0], values / full)


def test_a_chart_read_backwards_keeps_its_scale():
    found = device_values(rgb(255 * LEVELS), "x", lightness=LIGHTNESS[::-1])
    np.testing.assert_allclose(found.values[:, 0], LEVELS)


def test_off_axis_channels_are_kept_apart():
    columns = rgb(255 * LEVELS) | {"RGB_B": np.array([0, 51, 90, 153, 204, 255.0])}
    assert device_values(columns, "x").values[2].tolist() == pytest.approx([0.4, 0.4, 90 / 255])


def test_a_grey_value_is_a_tone_or_an_amount_of_ink():
    tone = device_values({"GRAY": 100 * LEVELS}, "x", lightness=LIGHTNESS)
    np.testing.assert_allclose(tone.values[:, 0], LEVELS)
    ink = device_values({"GRAY": 100 - 100 * LEVELS}, "x", lightness=LIGHTNESS)
    np.testing.assert_allclose(ink.values[:, 0], LEVELS)
    assert "GRAY is an amount of ink: the prints darken as it rises." in ink.remarks
    level = device_values({"LEVEL": LEVELS}, "x", lightness=LIGHTNESS[::-1])
    np.testing.assert_allclose(level.values[:, 0], LEVELS)


@pytest.mark.parametrize(("full", "words"), [(1, "0-1"), (100, None), (255, "0-255")])
def test_black_ink_alone_is_a_ramp(full, words):
    """Per cent is how ink is told, and not remarked on."""
    found = device_values({"CMYK_K": full * LEVELS}, "x", lightness=LIGHTNESS[::-1])
    np.testing.assert_allclose(found.values, np.repeat(1 - LEVELS[:, np.newaxis], 3, axis=1))
    said = () if words is None else (f"Ink is on {words} (decided from the data).",)
    assert found.remarks == said


def cmyk(*patches):
    columns = np.array(patches, dtype=float).T
    return dict(zip(("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"), columns, strict=True))


BOTH = cmyk(
    (0, 0, 0, 0),
    (0, 0, 0, 50),
    (0, 0, 0, 100),
    (40, 40, 40, 0),
    (100, 100, 100, 0),
    (50, 40, 40, 0),
)


def test_a_file_with_two_ramps_asks_which():
    with pytest.raises(BadInput, match=r"K ramp of 3 tones and a C = M = Y ramp of 3.*--ramp K"):
        device_values(BOTH, "x")
    black = device_values(BOTH, "x", ramp="K")
    assert black.rows.tolist() == [0, 1, 2]
    assert black.values[:, 0].tolist() == [1.0, 0.5, 0.0]
    assert "3 patches with cyan, magenta or yellow ink left out" in black.remarks[-1]
    colour = device_values(BOTH, "x", ramp="CMY")
    assert colour.rows.tolist() == [0, 3, 4, 5]
    np.testing.assert_allclose(colour.values[3], [0.5, 0.6, 0.6])
    assert "2 patches with black ink left out" in colour.remarks[-1]


def test_the_only_ramp_there_is_is_read():
    only_black = cmyk((0, 0, 0, 0), (0, 0, 0, 50), (0, 0, 0, 100), (100, 0, 0, 0))
    assert device_values(only_black, "x").rows.tolist() == [0, 1, 2]
    only_colour = cmyk((0, 0, 0, 0), (0, 0, 0, 100), *[(c, c, c, 0) for c in (25, 50, 75)])
    found = device_values(only_colour, "x")
    assert found.rows.tolist() == [0, 2, 3, 4]
    assert found.remarks[0] == "The CMY ramp is read: it has 4 tones, the other one fewer."


@pytest.mark.parametrize(
    ("columns", "message"),
    [
        ({}, "there are no device values"),
        ({"RGB_R": LEVELS, "RGB_G": LEVELS}, "RGB_R, RGB_G but no RGB_B"),
        (rgb([0, -3, 255]), "RGB_R is -3, which is below 0"),
        (rgb([0, 128, 70000]), "RGB_R reaches 70000, which fits none of the scales 0-1, 0-100"),
        ({"CMYK_K": np.array([0, 50, 300.0])}, "CMYK_K reaches 300"),
    ],
)
def test_what_cannot_be_device_values_is_refused(columns, message):
    with pytest.raises(BadInput, match=message):
        device_values(columns, "x", lines=(7, 8, 9))


def test_a_scale_that_no_print_bears_out_is_refused():
    # 10 bit: on the only scale that holds 1023, white would print as level 0.016.
    with pytest.raises(BadInput, match="fits none of the scales"):
        device_values(rgb(1023 * LEVELS), "x", lightness=LIGHTNESS)


def test_a_stated_scale_is_kept_to():
    found = device_values(rgb([0, 40, 80]), "x", full_scale=255.0)
    np.testing.assert_allclose(found.values[:, 0], [0, 40 / 255, 80 / 255])
    assert found.remarks == ()
    with pytest.raises(BadInput, match="RGB_R is 300, which is above 255") as caught:
        device_values(rgb([0, 40, 300]), "x", full_scale=255.0, lines=(7, 8, 9))
    assert caught.value.line == 9
