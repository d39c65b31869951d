"""Laws of drying: their evidence against SciPy's densities, their constants against known ones."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.stats import multivariate_normal

from greyscale.analysis.kinetics import KINETICS, TWO, Kinetics, Problem, sizes

HOURS = np.array([0.1, 0.3, 0.6, 1.0, 2.0, 4.0, 8.0, 24.0])
LIMITS = (0.04, 120.0)
BY_NAME = {law.name: law for law in KINETICS}
ONE_LAW = KINETICS[0]


def problem(values: np.ndarray, sd: float) -> Problem:
    table = values.reshape(HOURS.size, -1)
    count = table.shape[1]
    return Problem(HOURS, table, sd * np.eye(count), np.full((1, count), sd**-2), LIMITS)


@pytest.mark.parametrize("law", KINETICS, ids=lambda law: law.name)
def test_what_is_left_falls_from_one_to_nothing(law: Kinetics) -> None:
    bounds = np.array(law.bounds(LIMITS))
    constants = np.vstack([bounds.mean(axis=1), bounds @ [0.7, 0.3]])
    left = law.left(np.append(HOURS, np.inf), HOURS[0], constants)
    assert left.shape == (2, HOURS.size + 1, law.terms)
    assert (np.diff(left, axis=1) <= 0).all()
    np.testing.assert_allclose(left[:, 0], 1.0)
    np.testing.assert_allclose(left[:, -1], 0.0)


def test_the_laws_are_what_they_are_called() -> None:
    """At t hours after a first reading at one hour, by the textbook formulas."""
    hours = np.array([1.0, 2.0, 5.0])

    def left(name: str, *constants: float) -> np.ndarray:
        return BY_NAME[name].left(hours, 1.0, np.array([constants]))[0]

    stretched = np.exp(-((hours / 3) ** 0.5)) / np.exp(-((1 / 3) ** 0.5))
    np.testing.assert_allclose(left("a stretched exponential", np.log(3), 0.5)[:, 0], stretched)
    # From a reading one hour after printing on, t^-1/2 is what diffusion leaves.
    power = left("a power of time", 0.0, np.log(0.5))[:, 0]
    np.testing.assert_allclose(power, hours**-0.5)
    both = left("an exponential and diffusion", np.log(2.0), 0.0)
    np.testing.assert_allclose(both, np.stack([np.exp(-(hours - 1) / 2), hours**-0.5], axis=1))


@pytest.mark.parametrize("law", KINETICS, ids=lambda law: law.name)
def test_the_evidence_is_that_of_the_normal_density(law: Kinetics) -> None:
    """Of contrasts between the times, which no final state enters; by SciPy's density."""
    random = np.random.default_rng(4)
    values, sd = random.normal(0, 1, (HOURS.size, 2)), 0.3
    constants = np.array(law.bounds(LIMITS)) @ [[0.6], [0.4]]
    constants = constants.T + ([[0.0, 1.0]] if law.name == TWO else 0.0)
    # A second change may vary otherwise from value to value than the first.
    spreads = np.array([[1.0, 1.0], [1.0, 0.2]])
    posed = Problem(HOURS, values, sd * np.eye(2), spreads / sd**2, LIMITS)
    tried = sizes(law, len(spreads))
    found = posed.log_evidence(law, constants, tried)[0]
    # Rows orthonormal to the constant: the whole information on all but the final state.
    contrasts = np.linalg.svd(np.ones((1, HOURS.size)))[2][1:]
    left = contrasts @ law.left(HOURS, HOURS[0], constants)[0]
    noise = sd**2 * np.eye(HOURS.size - 1)

    def density(which: int, covariance: np.ndarray) -> float:
        normal = multivariate_normal(np.zeros(HOURS.size - 1), covariance)
        return float(normal.logpdf(contrasts @ values[:, which]))

    def changed(which: int, size: np.ndarray) -> float:
        ways = (spreads[0, which], spreads[int(size[-1]), which])
        variances = [own**2 * way for own, way in zip(size[:-1], ways, strict=False)]
        return density(which, noise + left @ np.diag(variances) @ left.T) - density(which, noise)

    expected = [changed(0, size) + changed(1, size) for size in tried]
    np.testing.assert_allclose(found, expected, rtol=1e-6, atol=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_draws_of_one_exponential_are_spread_as_scipys_fit_says(seed: int) -> None:
    random = np.random.default_rng(seed)

    def curve(hours, final, amplitude, constant):
        return final + amplitude * np.exp(-hours / constant)

    values = curve(HOURS, 20.0, -3.0, 1.5) + random.normal(0, 0.1, HOURS.size)
    found, covariance = curve_fit(curve, HOURS, values, p0=[20, -3, 1.5])
    drawn = problem(values, 0.1).draw((ONE_LAW,), 4000, seed=1)
    # The fit's own estimate of the noise, for the noise that is known.
    residual = values - curve(HOURS, *found)
    sd = np.sqrt(np.diag(covariance) / (residual @ residual / (HOURS.size - 3))) * 0.1
    constants = drawn.time_constants(0)[:, 0]
    assert np.median(constants) == pytest.approx(found[2], rel=0.03)
    assert constants.std() == pytest.approx(sd[2], rel=0.15)
    assert np.median(drawn.final) == pytest.approx(found[0], abs=0.03)
    assert drawn.final.std() == pytest.approx(sd[0], rel=0.25)
    # Whatever the law, the mean of eight readings is known to their noise over the root of eight.
    left = ONE_LAW.left(HOURS, HOURS[0], drawn.constants[:, :1]).mean(axis=1)
    mean = drawn.final + left * drawn.amplitudes[:, 0]
    assert mean.std() == pytest.approx(0.1 / np.sqrt(8), rel=0.1)


def test_two_time_constants_are_found_where_there_are_two() -> None:
    shape = np.exp(-HOURS / 0.3)[:, None] * [3.0, 1.0] + np.exp(-HOURS / 6.0)[:, None] * [1.0, -2.0]
    drawn = problem(shape + np.random.default_rng(1).normal(0, 0.02, shape.shape), 0.02).draw(
        KINETICS, 2000, seed=1
    )
    law = int(np.argmax(drawn.probabilities))
    assert drawn.laws[law].name == TWO
    low, high = np.percentile(drawn.time_constants(law), [2.5, 97.5], axis=0)
    assert (low <= [0.3, 6.0]).all()
    assert (high >= [0.3, 6.0]).all()
