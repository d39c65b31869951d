"""The smoothing curve: against SciPy's, and its uncertainty against what is known."""

import numpy as np
import pytest

from greyscale.charts.plan import fit_curve


def _bent(x):
    return 20 + 70 * x + 4 * np.sin(7 * x)


def test_the_mean_is_the_cubic_smoothing_spline_of_scipy():
    """scipy.interpolate.make_smoothing_spline with lambda = noise variance / bend variance."""
    from scipy.interpolate import make_smoothing_spline

    x = np.linspace(0, 1, 33)
    y = _bent(x) + np.random.default_rng(3).normal(0, 0.2, 33)
    curve = fit_curve(x, y, 0.2)
    spline = make_smoothing_spline(x, y, lam=0.2**2 / curve.bend_variance)
    grid = np.linspace(0, 1, 201)
    assert curve.mean(grid) == pytest.approx(spline(grid), abs=1e-8)
    assert curve.slope(grid) == pytest.approx(spline.derivative()(grid), abs=1e-6)


def test_the_smoothing_chosen_is_near_that_of_generalised_cross_validation():
    """make_smoothing_spline without lambda minimises GCV: another criterion, a like curve."""
    from scipy.interpolate import make_smoothing_spline

    x = np.linspace(0, 1, 65)
    y = _bent(x) + np.random.default_rng(4).normal(0, 0.3, 65)
    grid = np.linspace(0, 1, 201)
    difference = fit_curve(x, y, 0.3).mean(grid) - make_smoothing_spline(x, y)(grid)
    assert np.sqrt(np.mean(difference**2)) < 0.15


def test_the_truth_lies_within_two_standard_deviations_about_95_times_in_100():
    """Wahba (1983): coverage over the points of a curve is about nominal."""
    x, grid = np.linspace(0, 1, 33), np.linspace(0, 1, 101)
    inside = []
    for seed in range(40):
        y = _bent(x) + np.random.default_rng(seed).normal(0, 0.15, 33)
        curve = fit_curve(x, y, 0.15)
        inside.append(np.abs(curve.mean(grid) - _bent(grid)) < 1.96 * curve.sd(grid))
    assert 0.91 <= np.mean(inside) <= 0.99


def test_a_straight_line_has_the_uncertainty_of_linear_regression():
    """Textbook: sd of a fitted line at x is s sqrt(1/n + (x - mean)² / sum (x - mean)²)."""
    x = np.linspace(0, 1, 21)
    curve = fit_curve(x, 20 + 75 * x, 0.15)
    expected = 0.15 * np.sqrt(1 / 21 + (x - 0.5) ** 2 / np.sum((x - 0.5) ** 2))
    assert curve.sd(x) == pytest.approx(expected, rel=0.02)


def test_a_further_measurement_makes_the_curve_surer_there_and_nowhere_less_sure():
    x, grid = np.linspace(0, 1, 9), np.linspace(0, 1, 101)
    curve = fit_curve(x, _bent(x), 0.1)
    before, after = curve.sd(grid), curve.sd(grid, [0.44], 0.1**2)
    assert (after <= before + 1e-9).all()
    assert after[44] < 0.8 * before[44]
