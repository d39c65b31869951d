"""The tones of a starting chart."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from greyscale.base.errors import BadInput
from greyscale.charts.patches import (
    distinct,
    even_in_lightness,
    expected_lightness,
    joined,
    starting_tones,
    with_repeats,
)

HALF_A_CODE = 0.5 / 255


@given(st.integers(3, 256))
def test_tones_are_even_in_level_to_half_a_code_of_8_bits(count):
    levels = starting_tones(count).device[:, 0]
    assert np.abs(levels - np.linspace(0, 1, count)).max() <= HALF_A_CODE + 1e-12
    assert np.unique(levels).size == count


def test_at_16_bits_tones_are_even_to_half_a_code_of_16_bits():
    assert (
        np.abs(starting_tones(33, bits=16).device[:, 0] - np.linspace(0, 1, 33)).max()
        <= 0.5 / 65535
    )


@given(st.integers(3, 256), st.sampled_from(["level", "lightness"]))
def test_device_values_are_whole_codes_and_hold_paper_and_black(count, spacing):
    levels = starting_tones(count, spacing).device[:, 0]
    codes = levels * 255
    assert np.abs(codes - np.round(codes)).max() < 1e-9
    assert levels[0] == 0
    assert levels[-1] == 1
    assert (np.diff(levels) > 0).all()


def test_tones_are_even_in_the_lightness_of_the_expected_printer():
    levels = starting_tones(21, "lightness", bits=16).device[:, 0]
    steps = np.diff(expected_lightness(levels))
    assert steps.min() == pytest.approx(steps.max(), rel=0.01)


def test_tones_are_even_in_the_lightness_of_a_measured_printer():
    known = np.linspace(0, 1, 101)
    L = 20 + 70 * np.sqrt(known)
    levels = distinct(even_in_lightness(15, known, L), 16)
    steps = np.diff(np.interp(levels, known, L))
    assert steps.min() == pytest.approx(steps.max(), rel=0.01)


@pytest.mark.parametrize("count", [0, 2, 257, -5])
def test_a_number_of_tones_that_cannot_be_is_refused(count):
    with pytest.raises(BadInput, match="tones are not possible"):
        starting_tones(count)


def test_an_unknown_spacing_is_refused_with_those_known():
    with pytest.raises(BadInput, match="level, lightness"):
        starting_tones(33, "density")


def test_repeats_are_paper_and_black_then_tones_over_the_whole_ramp():
    patches = with_repeats(starting_tones(33), 12)
    again = patches.level[33:]
    # Paper most often: all aims start from it, and its noise is theirs.
    assert sorted(again[:8]) == [0, 0, 0, 1, 1, 1, 1, 1]
    assert again[8:].min() < 0.2
    assert again[8:].max() > 0.8


def test_few_repeats_are_paper_and_black_twice_each():
    assert sorted(with_repeats(starting_tones(33), 5).level[33:37]) == [0, 0, 1, 1]


def test_all_repeats_are_marked_as_such():
    patches = with_repeats(starting_tones(33), 10)
    assert all(reason.startswith("repeat: ") for reason in patches.reasons[33:])


@pytest.mark.parametrize("repeats", [-1, 1000])
def test_a_number_of_repeats_that_cannot_be_is_refused(repeats):
    with pytest.raises(BadInput, match="repeats are not possible"):
        with_repeats(starting_tones(33), repeats)


def test_joining_keeps_each_device_value_once():
    both = joined([starting_tones(5), starting_tones(9)])
    assert len(both) == 9
    assert np.unique(both.device, axis=0).shape == (9, 3)
