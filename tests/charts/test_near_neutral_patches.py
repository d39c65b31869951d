"""Near-neutral patches: how many, which way they go, and what can be learned from them."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.array_printers import tr006_printer

from greyscale.charts.patches import (
    NUDGE_RANGE,
    near_neutral_levels,
    near_neutral_patches,
    nudges_for_response,
)
from greyscale.charts.plan import plan_patches

NOISE = 0.15
OPPONENT = np.array([[1, -1, 0], [1, 1, -2]]).T / np.sqrt([2, 6])


@pytest.mark.parametrize("tones", [9, 17, 21, 24, 33, 40])
def test_a_near_neutral_chart_has_at_most_150_patches_repeats_included(tones):
    patches = plan_patches(tones=tones, near_neutral=True).patches
    assert len(patches) <= 150


def test_33_tones_leave_room_for_102_near_neutral_patches_and_12_repeats():
    kinds = Counter(plan_patches(tones=33, near_neutral=True).patches.kinds())
    assert kinds == {"tone": 33, "near-neutral": 102, "repeat": 12}


@given(st.lists(st.floats(0, 1), min_size=1, max_size=20, unique=True), st.floats(*NUDGE_RANGE))
def test_patches_are_printable_whole_codes_off_the_axis_and_none_twice(levels, nudge):
    device = near_neutral_patches(np.sort(levels), nudge).device
    assert device.min() >= 0
    assert device.max() <= 1
    assert np.abs(device * 255 - np.round(device * 255)).max() < 1e-9
    assert np.ptp(device, axis=1).min() > 0
    assert np.unique(device, axis=0).shape == device.shape


def test_in_the_middle_channels_move_one_at_a_time_then_two_against_each_other():
    patches = near_neutral_patches([0.4, 0.6])
    single, opponent = patches.device[:6] - 102 / 255, patches.device[6:] - 153 / 255
    assert ((np.abs(single) > 1e-9).sum(axis=1) == 1).all()
    assert ((np.abs(opponent) > 1e-9).sum(axis=1) == 2).all()
    assert np.abs(opponent.sum(axis=1)).max() < 1e-9
    assert patches.reasons[3] == "near-neutral: R −41"
    assert patches.reasons[6] == "near-neutral: R +24, G −24"


@pytest.mark.parametrize("level", [0.0, 0.03, 0.4, 0.6, 0.97, 1.0])
def test_six_ways_stay_60_degrees_apart_even_next_to_paper_and_black(level):
    way = near_neutral_patches([level]).device @ OPPONENT
    angle = np.sort(np.degrees(np.arctan2(way[:, 1], way[:, 0])))
    assert len(way) == 6
    assert np.diff(angle) == pytest.approx(60, abs=4)
    assert np.linalg.norm(way, axis=1) == pytest.approx(0.16 * np.sqrt(2 / 3), abs=2 / 255)


def test_neighbouring_tones_look_twelve_ways():
    way = near_neutral_patches([0.4, 0.6]).device @ OPPONENT
    angle = np.sort(np.degrees(np.arctan2(way[:, 1], way[:, 0])))
    assert np.diff(angle) == pytest.approx(30, abs=4)


def test_two_tones_reach_far_and_the_next_two_half_as_far():
    device = near_neutral_patches([0.3, 0.4, 0.5, 0.6]).device
    away = np.linalg.norm(device - device.mean(axis=1, keepdims=True), axis=1)
    reach = away.reshape(4, 6).mean(axis=1) / np.sqrt(2 / 3)
    assert reach == pytest.approx([0.16, 0.16, 0.08, 0.08], abs=1.5 / 255)


def test_levels_are_denser_in_the_shadows():
    steps = np.diff(near_neutral_levels(17))
    assert (np.diff(steps) > 0).all()


def test_levels_of_a_follow_up_lie_between_those_of_the_first():
    first, second = near_neutral_levels(17), near_neutral_levels(17, between=True)
    assert ((second[:-1] > first[:-1]) & (second[:-1] < first[1:])).all()


def test_the_answer_is_well_above_noise_on_a_published_printing_condition():
    """ANSI CGATS TR 006-2007: each nudge moves a*, b* by twenty times an instrument's noise.

    Next to paper, where nudges stay close to where corrections need them, by eight times.
    """
    printer = tr006_printer()
    patches = plan_patches(tones=33, near_neutral=True).patches
    device = patches.device[[kind == "near-neutral" for kind in patches.kinds()]]
    device = device[device.mean(axis=1) > 0.1]
    axis = np.repeat(device.mean(axis=1, keepdims=True), 3, axis=1)
    moved = np.linalg.norm((printer.lab(device) - printer.lab(axis))[:, 1:], axis=1)
    light = device.mean(axis=1) > 0.85
    assert moved[~light].min() > 20 * NOISE
    assert moved[light].min() > 8 * NOISE


def test_local_quadratic_models_are_well_determined_everywhere():
    """Around each tone, the plan fixes slopes and curvatures in both chromatic directions.

    Textbook least squares: n hexagons of radius r leave a slope with a standard error of
    noise / sqrt(3 n r²). Over a quarter of the scale, which holds four hexagons, it must be no
    larger than two hexagons of a nudge of 0.1 give: 0.5 times the noise for each 0.1.
    """
    patches = plan_patches(tones=33, near_neutral=True).patches
    level = patches.device.mean(axis=1)
    way = patches.device @ OPPONENT / 0.1
    for middle in np.linspace(0.13, 0.87, 17):
        near = np.abs(level - middle) < 0.13
        t, (u, v) = (level[near] - middle) / 0.13, way[near].T
        design = np.column_stack([np.ones_like(t), t, t**2, u, v, u * v, u**2, v**2, t * u, t * v])
        covariance = np.linalg.inv(design.T @ design)
        assert np.sqrt(np.diag(covariance)[3:5]).max() < 0.5
        assert np.linalg.cond(design) < 12


def test_nudges_grow_where_the_printer_answers_little_and_are_bounded():
    nudges = nudges_for_response(
        np.array([0.1, 0.5, 0.9]), np.array([0.1, 0.5, 0.9]), np.array([10.0, 80.0, 900.0])
    )
    assert nudges.tolist() == [NUDGE_RANGE[1], 0.125, NUDGE_RANGE[0]]
