"""The log evidence by SciPy, and what is made of noise that few repeats tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import approx_fprime
from scipy.special import gamma, kv
from scipy.stats import multivariate_normal

from greyscale.colorimetry.arrays import matern_32, matern_52, matern_92
from greyscale.printer.covariance import PARAMETERS, Covariance, Onset, Pairs, PairsWithin, Points
from greyscale.printer.gaussian_process import (
    _DETAILS,
    _DOWN,
    _UP,
    BEFOREHAND,
    _minus_log_evidence,
    fit_process,
    with_expected_detail,
)

RANDOM = np.random.default_rng(7)
COUNT = 40
GREY = RANDOM.uniform(0.02, 0.98, (COUNT, 1))
DEVICE = np.clip(GREY + RANDOM.uniform(-0.08, 0.08, (COUNT, 3)), 0, 1)
ONSETS = (Onset("mean", (0.5, 0.5, 0.5)), Onset("luma", (0.7, 0.7, 0.7)))
EVIDENCE = Points(DEVICE, ONSETS)
PAIRS = PairsWithin(EVIDENCE)
MATRIX_PAIRS = Pairs(EVIDENCE, EVIDENCE)
# No parameter at its median, or a slope of the prior would be nought by itself.
LOG_PARAMETERS = BEFOREHAND + RANDOM.uniform(-0.4, 0.4, len(PARAMETERS))
ANSWER = 3 * np.sin(5 * DEVICE.mean(axis=1)) + 20 * (DEVICE[:, 0] - DEVICE[:, 1])
NOISE = np.full(COUNT, 0.15**2) / RANDOM.integers(1, 4, COUNT)


def test_the_log_evidence_is_that_of_a_normal_distribution() -> None:
    value, *_ = _minus_log_evidence(PAIRS, ANSWER, NOISE, LOG_PARAMETERS)
    matrix = Covariance(MATRIX_PAIRS, LOG_PARAMETERS).value + np.diag(NOISE + 1e-6)
    by_scipy = -multivariate_normal(np.zeros(COUNT), matrix).logpdf(ANSWER)
    away = LOG_PARAMETERS - BEFOREHAND
    of_parameters = 0.5 * np.sum((away / np.where(away < 0, _DOWN, _UP)) ** 2)
    # Constants are left out.
    expected = by_scipy - 0.5 * COUNT * np.log(2 * np.pi) + of_parameters
    assert value == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("nu", [1.5, 2.5, 4.5])
def test_matern_covariances_are_those_of_the_bessel_function(nu: float) -> None:
    """Rasmussen and Williams 2006, 4.14, with SciPy's modified Bessel function."""
    x = np.linspace(0.01, 12.0, 50)
    expected = 2 ** (1 - nu) / gamma(nu) * x**nu * kv(nu, x)
    found = {1.5: matern_32, 2.5: matern_52, 4.5: lambda x: matern_92(x, np.exp(-x))}[nu]
    np.testing.assert_allclose(found(x), expected, rtol=1e-9)


def test_its_slope_by_noise_is_that_of_differences() -> None:
    _, _, on_diagonal, _ = _minus_log_evidence(PAIRS, ANSWER, NOISE, LOG_PARAMETERS)

    def along(louder: np.ndarray) -> float:
        noise = NOISE * np.exp(2 * louder[0])
        return _minus_log_evidence(PAIRS, ANSWER, noise, LOG_PARAMETERS)[0]

    (expected,) = approx_fprime(np.zeros(1), along, 1e-6)
    assert on_diagonal @ NOISE == pytest.approx(expected, rel=1e-3)


def test_every_covariance_is_one() -> None:
    matrix = Covariance(MATRIX_PAIRS, LOG_PARAMETERS).value
    np.testing.assert_allclose(matrix, matrix.T, atol=1e-9)
    assert np.linalg.eigvalsh(matrix)[0] > -1e-8 * np.linalg.eigvalsh(matrix)[-1]


def smooth_answer(noise: float, seed: int) -> tuple[PairsWithin, np.ndarray]:
    levels = np.repeat(np.linspace(0, 1, 33)[:, None], 3, axis=1)
    points = Points(levels)
    random = np.random.default_rng(seed)
    return PairsWithin(points), np.sin(4 * levels[:, 0]) + random.normal(0, noise, 33)


def test_noise_that_few_repeats_understate_is_found_out() -> None:
    """Repeats that happened to agree must not make the process follow every wobble."""
    stated, true = 0.08, 0.2
    found = []
    for seed in range(5):
        pairs, answer = smooth_answer(true, seed)
        noise = np.full(33, stated**2)
        made = fit_process(pairs, answer, noise, noise_spread=0.4, alone=True)
        # Where nothing is repeated, noise cannot be told from detail of the printer's own.
        found.append(np.hypot(stated * made.noisier.mean(), made.detail))
    assert np.mean(found) == pytest.approx(true, rel=0.35)


def test_noise_that_many_repeats_told_is_kept() -> None:
    pairs, answer = smooth_answer(0.15, 1)
    sure = fit_process(pairs, answer, np.full(33, 0.15**2), noise_spread=0.0, alone=True)
    # Repeats tell it over all tones; whether the dark ones are noisier, the scatter tells.
    assert np.exp(np.mean(np.log(sure.noisier))) == pytest.approx(1.0, abs=0.03)


def test_a_ramp_alone_leaves_the_slopes_beside_it_as_unsure_as_before() -> None:
    pairs, answer = smooth_answer(0.05, 2)
    alone = fit_process(pairs, answer, np.full(33, 0.05**2), alone=True)
    for name in ("slope_constant", "slope", "bend"):
        i = PARAMETERS.index(name)
        assert alone.log_parameters[i] >= BEFOREHAND[i] - 1e-9


def test_steps_are_found_where_noise_half_hides_them() -> None:
    """Answers rounded to whole units err by 1/sqrt(12) (uniform), which is no noise of 0.15."""
    random = np.random.default_rng(3)
    level = np.linspace(0.0, 1.0, 120)
    device = np.repeat(level[:, np.newaxis], 3, axis=1)
    pairs = PairsWithin(Points(device))
    smooth = 40 * np.sin(3 * level + 1)
    detail = []
    for truth in (np.round(smooth), smooth):
        read = truth + random.normal(0.0, 0.15, level.size)
        found = fit_process(pairs, read, np.full(level.size, 0.15**2), noise_spread=0.15)
        detail.append([one.detail for one in with_expected_detail([found] * 3)])
    np.testing.assert_allclose(detail[0], 12**-0.5, rtol=0.25)
    assert np.max(detail[1]) < 0.1


def test_a_detail_that_one_answer_cannot_tell_is_expected_as_the_others_have_it() -> None:
    process = fit_process(PAIRS, ANSWER, NOISE)
    sure = replace(process, evidence_of_details=-20 * np.log(_DETAILS / 0.4) ** 2)
    unsure = replace(process, evidence_of_details=np.zeros_like(_DETAILS))
    found = [one.detail for one in with_expected_detail([sure, sure, unsure])]
    np.testing.assert_allclose(found, [0.4, 0.4, 0.4], rtol=0.3)
    alone = with_expected_detail([unsure] * 3)[0].detail
    # Log-normal about 0.02, cut off at 2: of its square's mean the far tail is the larger part.
    assert 0.02 < alone < 0.3
