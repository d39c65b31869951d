"""CIEDE2000 against the published pairs, ΔE*ab and ΔCh against a second library."""

from __future__ import annotations

import coloraide
import numpy as np
import pytest

from greyscale.colorimetry.differences import delta_Ch, delta_E_2000, delta_E_ab

# Sharma, Wu and Dalal (2005), The CIEDE2000 color-difference formula: implementation notes,
# supplementary test data, and mathematical observations, Color Research & Application 30(1),
# table 1: L*, a*, b* of both colours and the difference, all 34 pairs.
SHARMA_WU_DALAL = """
50.0000 2.6772 -79.7751 50.0000 0.0000 -82.7485 2.0425
50.0000 3.1571 -77.2803 50.0000 0.0000 -82.7485 2.8615
50.0000 2.8361 -74.0200 50.0000 0.0000 -82.7485 3.4412
50.0000 -1.3802 -84.2814 50.0000 0.0000 -82.7485 1.0000
50.0000 -1.1848 -84.8006 50.0000 0.0000 -82.7485 1.0000
50.0000 -0.9009 -85.5211 50.0000 0.0000 -82.7485 1.0000
50.0000 0.0000 0.0000 50.0000 -1.0000 2.0000 2.3669
50.0000 -1.0000 2.0000 50.0000 0.0000 0.0000 2.3669
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0009 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0010 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0011 7.2195
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0012 7.2195
50.0000 -0.0010 2.4900 50.0000 0.0009 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0010 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0011 -2.4900 4.7461
50.0000 2.5000 0.0000 50.0000 0.0000 -2.5000 4.3065
50.0000 2.5000 0.0000 73.0000 25.0000 -18.0000 27.1492
50.0000 2.5000 0.0000 61.0000 -5.0000 29.0000 22.8977
50.0000 2.5000 0.0000 56.0000 -27.0000 -3.0000 31.9030
50.0000 2.5000 0.0000 58.0000 24.0000 15.0000 19.4535
50.0000 2.5000 0.0000 50.0000 3.1736 0.5854 1.0000
50.0000 2.5000 0.0000 50.0000 3.2972 0.0000 1.0000
50.0000 2.5000 0.0000 50.0000 1.8634 0.5757 1.0000
50.0000 2.5000 0.0000 50.0000 3.2592 0.3350 1.0000
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
61.2901 3.7196 -5.3901 61.4292 2.2480 -4.9620 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645
22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
36.4612 47.8580 18.3852 36.2715 50.5065 21.2231 1.4146
90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""
PAIRS = np.array([line.split() for line in SHARMA_WU_DALAL.split("\n") if line], dtype=float)


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
