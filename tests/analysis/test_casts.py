"""What is called a cast, how it is named, and what is not claimed."""

from __future__ import annotations

import numpy as np
import pytest
from support.families import family
from support.grey_readings import ramp_lab, reading_of

from greyscale.analysis.analyse import analyse
from greyscale.analysis.neutrality import HUES, _shared, find_casts, hue_name
from greyscale.analysis.ramp import ramp_of

LEVELS = np.linspace(0, 1, 21)


def casts_of(a, b=0.0, level=LEVELS):
    return analyse(reading_of(level, ramp_lab(level, a, b))).neutrality.casts


def only_at(levels, value):
    """Give `value` at some levels and zero elsewhere."""
    return np.where(np.isclose(LEVELS[:, None], levels).any(axis=1), value, 0.0)


@pytest.mark.parametrize(("sd", "casts"), [(0.55, 1), (0.65, 0)])
def test_a_cast_is_more_than_twice_the_repeatability_however_many_tones_agree(sd, casts):
    assert len(find_casts(LEVELS, np.full((21, 2), [1.2, 0.0]), [False] * 21, sd)) == casts


@pytest.mark.parametrize(("aim", "kept"), [("fading", 0.85), ("paper", 0.0), ("absolute", 1.0)])
def test_the_paper_moves_the_aim_of_all_tones_by_what_each_keeps_of_its_tint(aim, kept):
    """ISO 12647-2:2013, annex A, as remembered: less by 0.85 of the fall of L* towards black.

    Measured four times, it counts half as much; black moves none of these aims.
    """
    level = np.append(LEVELS, [1.0] * 3)
    ramp = ramp_of(reading_of(level, ramp_lab(level)))
    L = ramp.lab()[:, 0]
    fall = (L[ramp.paper_index] - L) / (L[ramp.paper_index] - L[ramp.black_index])
    expected = (1 - kept * (fall if aim == "fading" else np.ones(len(L)))) / 2
    moved = _shared(ramp, aim, ramp.lab())
    np.testing.assert_allclose(moved, np.stack([expected, 0 * expected], axis=1), atol=1e-9)


@pytest.mark.parametrize(
    ("angle", "name"),
    [
        (0, "reddish"),
        (45, "orange"),
        (90, "yellowish"),
        (135, "yellow-green"),
        (180, "greenish"),
        (225, "blue-green"),
        (270, "bluish"),
        (315, "purplish"),
    ],
)
def test_each_sector_reaches_22_5_degrees_to_both_sides(angle, name):
    for offset in (-22.5, 0, 22.49):
        assert hue_name(angle + offset) == name
    assert hue_name(angle + 22.5) == HUES[(HUES.index(name) + 1) % 8]


@pytest.mark.parametrize(("angle", "name"), [(i * 45, hue) for i, hue in enumerate(HUES)])
def test_the_hue_is_that_of_the_difference_from_the_aim(angle, name):
    """ΔCh 2 in a known direction, on a paper whose own tint is not it."""
    lab = ramp_lab(LEVELS)
    lab[:, 2] -= 4.0  # a bluish paper
    fade = 1 - 0.85 * (95 - lab[:, 0]) / 79
    lab[:, 2] = -4.0 * fade
    lab[1:-1, 1] += 2 * np.cos(np.radians(angle))
    lab[1:-1, 2] += 2 * np.sin(np.radians(angle))
    (cast,) = analyse(reading_of(LEVELS, lab)).neutrality.casts
    assert cast.hue == name
    assert cast.hue_angle == pytest.approx(angle % 360, abs=1e-6)
    assert cast.peak_delta_Ch == pytest.approx(2.0)
    assert (cast.from_level, cast.to_level) == pytest.approx((0.05, 0.95))


def test_a_cast_has_its_ends_and_its_peak():
    a = only_at([0.10, 0.15, 0.20, 0.25], -1.3)
    a[3] = -2.3
    (cast,) = casts_of(a)
    assert cast.hue == "greenish"
    assert (cast.from_level, cast.to_level) == pytest.approx((0.10, 0.25))
    assert cast.peak_level == pytest.approx(0.15)
    assert cast.peak_delta_Ch == pytest.approx(2.3)


@pytest.mark.parametrize(("delta_Ch", "found"), [(0.999, 0), (1.0, 1), (1.5, 1)])
def test_a_cast_begins_at_one(delta_Ch, found):
    assert len(casts_of(only_at([0.4, 0.45], delta_Ch))) == found


def test_one_tone_alone_is_no_cast():
    assert casts_of(only_at([0.4], 2.5)) == ()


def test_tones_apart_from_each_other_are_no_cast():
    assert casts_of(only_at([0.2, 0.4, 0.6], 2.5)) == ()


def repeated_tone(first, second):
    """One tone measured twice; paper and black measured twice too, and alike."""
    level = np.append(LEVELS, [0.4, 0.0, 1.0])
    lab = ramp_lab(level)
    lab[8, 1], lab[21, 1] = first, second
    return analyse(reading_of(level, lab)).neutrality.casts


def test_one_tone_that_repeats_confirm_is_a_cast():
    (cast,) = repeated_tone(2.4, 2.5)
    assert cast.from_level == cast.to_level == pytest.approx(0.4)
    assert cast.peak_delta_Ch == pytest.approx(2.45)


def test_one_tone_whose_repeats_disagree_is_no_cast():
    """The mean is 1.5, but the second measurement says there is nothing."""
    assert repeated_tone(3.0, 0.0) == ()


def test_no_cast_is_claimed_within_the_repeatability():
    """Repeats that spread with sd 1 per axis: a mean ΔCh of 1.6 is less than twice that."""
    rng = np.random.default_rng(0)
    level = np.tile(LEVELS, 4)
    lab = ramp_lab(level, a=1.6)
    lab[:, 1:] += rng.normal(0, 1.0, (level.size, 2))
    noisy = analyse(reading_of(level, lab))
    assert noisy.reading.repeatability.sd_Ch == pytest.approx(1.0, abs=0.15)
    least = 2 * noisy.reading.repeatability.sd_Ch
    assert all(cast.peak_delta_Ch > least for cast in noisy.neutrality.casts)
    assert len(casts_of(1.6)) == 1  # the same drift, cleanly measured, is one


@pytest.mark.parametrize("sd", family([0.6, 1.0, 2.0], [1.0]))
def test_noise_alone_is_hardly_ever_called_a_cast(sd):
    """100 neutral ramps measured twice: the averages must not be called casts."""
    rng = np.random.default_rng(1)
    level = np.tile(LEVELS, 2)
    claimed = 0
    for _ in range(100):
        lab = ramp_lab(level)
        lab[:, 1:] += rng.normal(0, sd, (level.size, 2))
        claimed += bool(analyse(reading_of(level, lab), neutral="absolute").neutrality.casts)
    # Two given neighbours are both beyond 2 sd with probability exp(-4)² (the mean of two has
    # sd/√2), a given tone is beyond 4 standard errors with exp(-8): together 1.2 ramps of 100.
    assert claimed <= 4


def test_a_run_whose_hue_turns_far_is_several_casts():
    """From greenish in the shadows over blue-green to bluish, never below ΔCh 1."""
    angle = np.radians(np.linspace(180, 340, 21))
    casts = casts_of(2.0 * np.cos(angle), 2.0 * np.sin(angle))
    assert [cast.hue for cast in casts] == ["greenish", "blue-green", "bluish"]
    ranges = [(c.from_level - 1e-9 <= LEVELS) & (c.to_level + 1e-9 >= LEVELS) for c in casts]
    for cast, inside in zip(casts, ranges, strict=True):
        beyond = np.abs(np.degrees(angle[inside]) - cast.hue_angle) > 45 + 1e-6
        assert beyond.sum() <= 1  # a single tone on the way stays with its neighbour
    np.testing.assert_array_equal(np.sum(ranges, axis=0)[1:-1], 1)  # each tone in one cast


def test_a_hue_that_wavers_about_a_sector_border_is_one_cast():
    """22.5° is between reddish and orange; the name is the peak's."""
    angle = np.radians(22.5 + 8 * (-1.0) ** np.arange(21))
    size = np.full(21, 2.0)
    size[9] = 2.5
    (cast,) = casts_of(size * np.cos(angle), size * np.sin(angle))
    assert cast.hue == hue_name(float(np.degrees(angle[9])))


def test_casts_come_by_rising_level_whatever_the_order_of_tones():
    level = np.array([0.9, 0.8, 0.3, 0.2, 0.5])
    delta = np.array([[2, 0], [2, 0], [0, -3], [0, -3], [0, 0]])
    for order in (slice(None), slice(None, None, -1)):
        casts = find_casts(level[order], delta[order], np.zeros(5, dtype=bool), 0.15)
        assert [cast.hue for cast in casts] == ["bluish", "reddish"]


def test_blacks_tint_is_reported_apart():
    lab = ramp_lab(LEVELS)
    lab[0, 1:] = [3.0, 0.0]
    found = analyse(reading_of(LEVELS, lab)).neutrality
    assert found.casts == ()
    assert found.black_delta_Ch == pytest.approx(3.0)
    assert found.max_delta_Ch == pytest.approx(0, abs=1e-9)
    assert found.a_range == pytest.approx((0.0, 3.0))
