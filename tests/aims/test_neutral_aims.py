"""Neutral aims against values worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from greyscale.aims.neutral import NEUTRAL_AIMS, neutral_aim
from greyscale.aims.tolerances import Tolerance, tolerance
from greyscale.base.errors import BadInput

PAPER, BLACK = [95.0, 1.0, -4.0], [16.0, 0.4, 0.2]


@pytest.mark.parametrize(("L", "kept"), [(95.0, 1.0), (55.5, 0.575), (16.0, 0.15), (75.25, 0.7875)])
def test_fading_by_hand(L, kept):
    """ISO 12647-2:2013 (memory): 1 - 0.85 (L*paper - L*)/(L*paper - L*black), say at L* 55.5:
    1 - 0.85 * 39.5/79 = 0.575."""
    np.testing.assert_allclose(neutral_aim("fading", L, PAPER, BLACK), [kept, -4.0 * kept])


def test_adapting_by_hand():
    """High, Nussbaum and Green (2023): the same in luminance. L* 95, 50, 16 are Y 87.6183,
    18.4187, 2.0993 ((L*+16)/116 cubed), so at L* 50 there remain
    1 - 0.85 (87.6183 - 18.4187)/(87.6183 - 2.0993) = 0.31220."""
    Y = [((L + 16) / 116) ** 3 * 100 for L in (95, 50, 16)]
    np.testing.assert_allclose(Y, [87.6183, 18.4187, 2.0993], atol=1e-4)
    np.testing.assert_allclose(
        neutral_aim("adapting", 50.0, PAPER, BLACK), [0.31220, -4 * 0.31220], atol=2e-5
    )


def test_fading_and_adapting_agree_at_paper_and_black():
    for L in (95.0, 16.0):
        np.testing.assert_allclose(
            neutral_aim("adapting", L, PAPER, BLACK), neutral_aim("fading", L, PAPER, BLACK)
        )


def test_paper_keeps_its_tint_and_absolute_has_none():
    L = np.linspace(16, 95, 9)
    np.testing.assert_array_equal(
        neutral_aim("paper", L, PAPER, BLACK), np.tile([1.0, -4.0], (9, 1))
    )
    np.testing.assert_array_equal(neutral_aim("absolute", L, PAPER, BLACK), np.zeros((9, 2)))


@pytest.mark.parametrize("name", NEUTRAL_AIMS)
def test_shapes_are_kept(name):
    assert neutral_aim(name, np.full((3, 4), 50.0), PAPER, BLACK).shape == (3, 4, 2)


def test_what_has_no_answer_is_refused():
    with pytest.raises(BadInput, match="fading, adapting, paper, absolute"):
        neutral_aim("faded", 50.0, PAPER, BLACK)
    with pytest.raises(BadInput, match="no ramp between them"):
        neutral_aim("fading", 50.0, PAPER, PAPER)


@pytest.mark.parametrize(
    ("grade", "mean", "largest", "verdict"),
    [
        # ISO 12647-7:2016 (memory): mean 2.0, max 3.5.
        ("contract-proof", 2.0, 3.5, "pass"),
        ("contract-proof", 2.0001, 3.5, "fail"),
        ("contract-proof", 2.0, 3.5001, "fail"),
        # Common practice, no source: mean 0.75, max 1.5.
        ("exhibition", 0.75, 1.5, "pass"),
        ("exhibition", 0.7501, 1.5, "fail"),
        ("exhibition", 0.75, 1.5001, "fail"),
        ("exhibition", 0.0, 0.0, "pass"),
    ],
)
def test_verdicts_at_their_boundaries(grade, mean, largest, verdict):
    assert tolerance(grade).verdict(mean, largest) == verdict


def test_a_grade_of_ones_own_is_taken_as_it_is():
    own = Tolerance("edition", 0.5, 1.0, "the workshop's own")
    assert tolerance(own) is own
    with pytest.raises(BadInput, match="proof, exhibition"):
        tolerance("gallery")
