"""The fit of exponentials, against series with known constants and against SciPy's own fit."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import curve_fit

from greyscale.analysis.exponential import draw, fit_exponentials, usual_limits

HOURS = np.array([0.1, 0.3, 0.6, 1.0, 2.0, 4.0, 8.0, 24.0])


def one(t, final, amplitude, constant):
    return final + amplitude * np.exp(-t / constant)


def two(t, final, amplitude_1, constant_1, amplitude_2, constant_2):
    return one(t, final, amplitude_1, constant_1) + amplitude_2 * np.exp(-t / constant_2)


def test_known_constants_of_one_term_are_found_exactly() -> None:
    fit = fit_exponentials(HOURS, one(HOURS, 21.5, -3.2, 1.7), 1)
    assert fit.time_constants == pytest.approx([1.7], rel=1e-6)
    assert fit.final == pytest.approx([21.5], rel=1e-7)
    assert fit.amplitudes.ravel() == pytest.approx([-3.2], rel=1e-6)


def test_known_constants_of_two_terms_are_found_exactly() -> None:
    fit = fit_exponentials(HOURS, two(HOURS, 21.5, -3.2, 0.5, 1.4, 6.0), 2)
    assert fit.time_constants == pytest.approx([0.5, 6.0], rel=1e-4)
    assert fit.amplitudes.ravel() == pytest.approx([-3.2, 1.4], rel=1e-4)


@pytest.mark.parametrize("seed", range(12))
def test_one_term_agrees_with_scipy_in_values_and_uncertainties(seed: int) -> None:
    random = np.random.default_rng(seed)
    values = one(HOURS, 20.0, -3.0, 1.5) + random.normal(0, 0.1, HOURS.size)
    fit = fit_exponentials(HOURS, values, 1)
    found, covariance = curve_fit(one, HOURS, values, p0=[20, -3, 1.5])
    sd = np.sqrt(np.diag(covariance))
    own = [fit.final[0], fit.amplitudes[0, 0], fit.time_constants[0]]
    assert own == pytest.approx(found, rel=1e-5)
    assert [fit.final_sd[0], fit.time_constants_sd[0]] == pytest.approx(sd[[0, 2]], rel=1e-3)


@pytest.mark.parametrize("seed", range(6))
def test_two_terms_agree_with_scipy(seed: int) -> None:
    random = np.random.default_rng(seed)
    hours = np.geomspace(0.05, 40, 14)
    truth = (20.0, -3.0, 0.5, 2.0, 7.0)
    values = two(hours, *truth) + random.normal(0, 0.02, hours.size)
    fit = fit_exponentials(hours, values, 2)
    found, covariance = curve_fit(two, hours, values, p0=truth)
    own = [fit.final[0], fit.amplitudes[0, 0], fit.time_constants[0], fit.amplitudes[1, 0]]
    assert [*own, fit.time_constants[1]] == pytest.approx(found, rel=1e-4)
    sd = np.sqrt(np.diag(covariance))[[2, 4]]
    assert fit.time_constants_sd == pytest.approx(sd, rel=0.01)


def test_many_values_share_their_time_constant_as_in_one_fit_of_all() -> None:
    random = np.random.default_rng(3)
    finals, amplitudes = np.array([20.0, 50.0, 80.0]), np.array([-3.0, -1.0, 0.5])
    values = finals + np.exp(-HOURS / 1.5)[:, None] * amplitudes
    values = values + random.normal(0, 0.1, values.shape)

    def all_at_once(_, constant, *rest):
        decay = np.exp(-HOURS / constant)[:, None]
        return (np.array(rest[:3]) + decay * np.array(rest[3:])).ravel()

    found, covariance = curve_fit(
        all_at_once, np.zeros(24), values.ravel(), p0=[1.5, *finals, *amplitudes]
    )
    fit = fit_exponentials(HOURS, values, 1)
    assert fit.time_constants[0] == pytest.approx(found[0], rel=1e-5)
    assert fit.final == pytest.approx(found[1:4], rel=1e-6)
    assert fit.amplitudes[0] == pytest.approx(found[4:], rel=1e-4)
    assert fit.time_constants_sd[0] == pytest.approx(np.sqrt(covariance[0, 0]), rel=1e-3)


def test_draws_are_spread_as_the_curvature_says() -> None:
    random = np.random.default_rng(5)
    values = (one(HOURS, 20.0, -3.0, 1.5) + random.normal(0, 0.1, HOURS.size))[:, None]
    fit = fit_exponentials(HOURS, values, 1, sd=0.1)
    drawn = draw(
        HOURS, values, 1, basis=np.eye(1), size=50.0, sd=0.1, limits=usual_limits(HOURS),
        count=4000, seed=1,
    )  # fmt: skip
    constants = drawn.time_constants[:, 0]
    assert np.median(constants) == pytest.approx(fit.time_constants[0], rel=0.02)
    assert constants.std() == pytest.approx(fit.time_constants_sd[0], rel=0.15)
    assert drawn.final[:, 0].std() == pytest.approx(fit.final_sd[0], rel=0.25)


@pytest.mark.parametrize(("values", "least", "most"), [
    (one(HOURS, 20.0, -3.0, 1.5), 0.0, 0.0),  # which has long come to rest
    (20.0 + 0.3 * HOURS, 0.5, 1.0),  # which goes on and on
])  # fmt: skip
def test_draws_say_whether_the_data_set_a_limit(values, least: float, most: float) -> None:
    """Which share of the time constants lies at the longest: no data say how long it takes."""
    drawn = draw(
        HOURS, values[:, None], 1, basis=np.eye(1), size=50.0, sd=0.1, limits=usual_limits(HOURS),
        count=2000, seed=1,
    )  # fmt: skip
    assert least <= drawn.at_the_limit <= most


def test_where_the_data_say_nothing_amplitudes_are_of_the_size_they_are_held_to_be() -> None:
    """Values as rough as a thousand times that size; two curves for three values."""
    basis = np.array([[1.0, 0.0], [0.0, 0.6], [0.0, 0.8]])
    drawn = draw(
        HOURS, np.zeros((HOURS.size, 3)), 1, basis=basis, size=0.5, sd=500.0,
        limits=usual_limits(HOURS), count=4000, seed=2,
    )  # fmt: skip
    assert np.sqrt(np.mean(drawn.amplitudes**2)) == pytest.approx(0.5, rel=0.03)


def test_the_criterion_tells_none_one_and_two_apart() -> None:
    random = np.random.default_rng(2)
    noise = random.normal(0, 0.03, (HOURS.size, 6))
    shapes = (
        np.zeros(HOURS.size),
        one(HOURS, 0.0, 1.0, 1.5),
        two(HOURS, 0.0, 1.0, 0.4, -0.6, 6.0),
    )
    for terms, shape in enumerate(shapes):
        values = shape[:, None] * np.linspace(1, 3, 6) + noise
        fits = [fit_exponentials(HOURS, values, count) for count in range(3)]
        assert int(np.argmin([fit.bic for fit in fits])) == terms


@pytest.mark.parametrize(("count", "terms"), [(2, 1), (4, 2)])
def test_too_few_times_are_refused(count: int, terms: int) -> None:
    with pytest.raises(ValueError, match="different times at least"):
        fit_exponentials(HOURS[:count], np.zeros(count), terms)
