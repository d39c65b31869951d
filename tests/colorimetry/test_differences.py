"""CIEDE2000 against the published pairs, ΔE*ab and ΔCh against a second library."""

from __future__ import annotations

import coloraide
import numpy as np
import pytest
from published.figures import PAIRS

from greyscale.colorimetry.cielab import delta_Ch, delta_E_2000, delta_E_ab


def test_all_34_published_pairs_are_there() -> None:
    assert PAIRS.shape == (34, 7)


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: f"{pair[6]}")
def test_ciede2000_equals_the_published_difference(pair: np.ndarray) -> None:
    assert delta_E_2000(pair[:3], pair[3:6]) == pytest.approx(pair[6], abs=1e-4)
    assert delta_E_2000(pair[3:6], pair[:3]) == pytest.approx(pair[6], abs=1e-4)


def test_differences_equal_a_second_library_on_random_pairs() -> None:
    """`coloraide` computes CIEDE2000 and ΔE*ab on its own; its formulas expect D65 coordinates."""
    random = np.random.default_rng(1)
    first = random.uniform([0, -60, -60], [100, 60, 60], (300, 3))
    second = first + random.normal(0, 6, first.shape)
    for formula, ours in (("2000", delta_E_2000), ("76", delta_E_ab)):
        theirs = [
            coloraide.Color("lab-d65", list(a)).delta_e(
                coloraide.Color("lab-d65", list(b)), method=formula
            )
            for a, b in zip(first, second, strict=True)
        ]
        np.testing.assert_allclose(ours(first, second), theirs, atol=1e-9)


def test_chromaticness_difference_leaves_lightness_out() -> None:
    """ISO 12647-7: sqrt(Δa*² + Δb*²); the 5-12-13 triangle by hand."""
    assert delta_Ch([20, 5, 12], [90, 0, 0]) == pytest.approx(13.0)


def test_arrays_keep_their_shape_and_equal_colours_differ_by_nothing() -> None:
    lab = np.random.default_rng(2).uniform(0, 90, (4, 5, 3))
    assert delta_E_2000(lab, lab).shape == (4, 5)
    assert np.all(delta_E_2000(lab, lab) == 0)
    assert np.all(delta_E_2000(np.zeros((2, 3)), np.zeros((2, 3))) == 0)
