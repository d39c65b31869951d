"""Where an aim is out of reach is said once for black, once for paper, and once a run between."""

from __future__ import annotations

import numpy as np

from greyscale.correction.expectation import find_limits

LEVELS = np.linspace(0.0, 1.0, 256)


def found(*off: tuple[int, int, float]):
    """The limits of a solution that is off in a* from one tone to another, each by so much."""
    aimed = np.column_stack([100 * LEVELS, np.zeros(256), np.zeros(256)])
    solved = aimed.copy()
    for first, last, by in off:
        solved[first : last + 1, 1] = by
    return find_limits(LEVELS, solved, aimed)


def test_black_and_paper_are_each_said_once_whatever_lies_between():
    """Black is off to tone 2, met at 3 and 4, off again from 5 to 20; paper alike."""
    black, between, paper = found(
        (0, 2, 0.5), (5, 20, 2.0), (100, 120, 1.0), (240, 249, 0.4), (252, 253, 0.8)
    )
    assert (black.kind, black.from_level, black.to_level) == ("black", 0.0, LEVELS[21])
    assert black.max_delta_Ch == 2.0
    assert f"to level {LEVELS[21]:.3f}" in black.message
    assert (between.kind, between.from_level) == ("range", LEVELS[100])
    (at_the_end,) = found((252, 254, 0.5), (255, 255, 0.9))
    assert (at_the_end.kind, at_the_end.max_delta_Ch) == ("paper", 0.9)
    assert (paper.kind, paper.from_level, paper.to_level) == ("paper", LEVELS[240], LEVELS[254])
    assert paper.max_delta_Ch == 0.8


def test_the_blend_into_black_ends_where_others_go_on():
    """Off by 3.7 at black, nearing the aim to 0.3 at tone 40, and off by up to 0.6 as far as 219.

    Paper alike, from the other end.
    """
    aimed = np.column_stack([100 * LEVELS, np.zeros(256), np.zeros(256)])
    solved = aimed.copy()
    solved[:41, 1] = np.linspace(3.7, 0.3, 41)
    solved[40:220, 1] = 0.3 + 0.3 * np.sin(np.linspace(0.0, np.pi, 180))
    black, between = find_limits(LEVELS, solved, aimed)
    assert (black.kind, between.kind) == ("black", "range")
    assert 35 / 255 < black.to_level == between.from_level < 41 / 255
    assert black.max_delta_Ch == 3.7
    assert between.max_delta_Ch < 0.7
    solved[:, 1] = solved[::-1, 1]
    between, paper = find_limits(LEVELS, solved, aimed)
    assert (between.kind, paper.kind) == ("range", "paper")
    assert 214 / 255 < paper.from_level == between.to_level < 220 / 255


def test_a_run_of_a_single_tone_is_no_range_between_a_level_and_itself():
    levels = np.linspace(0.0, 1.0, 1025)
    aimed = np.column_stack([100 * levels, np.zeros(1025), np.zeros(1025)])
    solved = aimed.copy()
    solved[402, 1] = 0.4
    (narrow,) = find_limits(levels, solved, aimed)
    assert narrow.message.startswith("At level 0.39 no values print the aim")


def test_all_tones_out_of_reach_are_one_run_and_none_is_none():
    (whole,) = found((0, 255, 3.0))
    assert (whole.from_level, whole.to_level) == (0.0, 1.0)
    assert found() == ()
