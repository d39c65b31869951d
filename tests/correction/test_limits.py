"""Where an aim is out of reach is said once for black, once for paper, and once a run between."""

from __future__ import annotations

import numpy as np
import pytest

from greyscale.correction.correct import _brought_in
from greyscale.correction.expectation import find_limits
from greyscale.printer.solver import Solution

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
    (last,) = found((255, 255, 0.9))
    assert (last.kind, last.from_level, last.to_level) == ("paper", LEVELS[254], 1.0)
    assert (paper.kind, paper.from_level, paper.to_level) == ("paper", LEVELS[240], LEVELS[254])
    assert paper.max_delta_Ch == 0.8


@pytest.mark.parametrize("tone", [20, 40])
def test_the_blend_into_black_ends_where_others_go_on(tone: int):
    """Off by 3.7 at black, nearing the aim to 0.3 at a tone, and off by up to 0.6 as far as 219.

    Paper alike, from the other end.
    """
    aimed = np.column_stack([100 * LEVELS, np.zeros(256), np.zeros(256)])
    solved = aimed.copy()
    solved[: tone + 1, 1] = np.linspace(3.7, 0.3, tone + 1)
    solved[tone:220, 1] = 0.3 + 0.3 * np.sin(np.linspace(0.0, np.pi, 220 - tone))
    black, between = find_limits(LEVELS, solved, aimed)
    assert (black.kind, between.kind) == ("black", "range")
    assert (tone - 5) / 255 < black.to_level == between.from_level < (tone + 1) / 255
    assert black.max_delta_Ch == 3.7
    assert between.max_delta_Ch < 0.7
    solved[:, 1] = solved[::-1, 1]
    between, paper = find_limits(LEVELS, solved, aimed)
    assert (between.kind, paper.kind) == ("range", "paper")
    assert (254 - tone) / 255 < paper.from_level == between.to_level < (260 - tone) / 255


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


def test_what_was_solved_for_is_the_aim_but_where_it_is_out_of_reach():
    aimed = np.column_stack([100 * LEVELS, np.zeros(256), np.zeros(256)])
    solved = np.add(aimed, [0.0, 0.1, 0.0])
    solved[100:121, 1] = 1.0
    solution = Solution(LEVELS, solved, solved, np.zeros_like(solved))
    target = _brought_in(solution, aimed, find_limits(LEVELS, solved, aimed))
    assert np.array_equal(target[100:121], solved[100:121])
    rest = np.delete(np.arange(256), np.arange(99, 122))
    assert np.array_equal(target[rest], aimed[rest])
