"""The likelihoods that the checks decide by, against SciPy's distributions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special, stats
from support.misreading import chart_layout, clean_reading

from greyscale.checks.case import lay_out
from greyscale.checks.likelihood import (
    BEND_LENGTH,
    CHROMATICNESS,
    COLOUR_LENGTH,
    KINK_LENGTH,
    LIGHTNESS,
    NOISES,
    NUDGE_LENGTH,
    Assignment,
    Belief,
    _of_no_patch,
    covariance,
    expected_lab,
    log_evidence,
    noise_of_repeats,
    precision,
    set_aside,
)

LAYOUT = chart_layout(1, tones=17, near_neutral=False)
READING = clean_reading(LAYOUT, 2)
CASE = lay_out(READING, LAYOUT)
STATE = Assignment.as_read(CASE)
# As it was read, the first two exchanged, and one and two patches without a value.
ROWS = np.stack([CASE.rows] * 4)
ROWS[1, [0, 1]] = ROWS[1, [1, 0]]
ROWS[2, 5] = -1
ROWS[3, [5, 9]] = [-1, set_aside(ROWS[3, 9:10])[0]]


def _covariance(kept: np.ndarray) -> np.ndarray:
    device = CASE.device[kept]
    blocks = [covariance(device, LIGHTNESS)] + 2 * [covariance(device, CHROMATICNESS)]
    count = len(device)
    whole = np.zeros((3 * count, 3 * count))
    for index, block in enumerate(blocks):
        part = slice(index * count, (index + 1) * count)
        whole[part, part] = block
    return whole


def _matern(order: float, distance: np.ndarray, length: float) -> np.ndarray:
    """Rasmussen and Williams (2006), equation 4.14."""
    scaled = np.sqrt(2 * order) * np.maximum(distance, 1e-9) / length
    return 2 ** (1 - order) / special.gamma(order) * scaled**order * special.kv(order, scaled)


@pytest.mark.parametrize("belief", [LIGHTNESS, CHROMATICNESS])
def test_what_is_believed_of_a_printer_is_a_sum_of_published_kernels(belief: Belief) -> None:
    """A line (equation 4.29), Matérn kernels and an exponential one; a nudge counts by itself."""
    device = chart_layout(3).device
    level, apart = device.mean(axis=1), np.linalg.norm(device[:, None] - device, axis=2)
    nudges = (device - level[:, None]) @ (device - level[:, None]).T
    distance = np.abs(level[:, None] - level)
    line = belief.offset**2 + belief.slope**2 * np.outer(level - 0.5, level - 0.5)
    bent = belief.bend**2 * _matern(1.5, distance, BEND_LENGTH)
    kinked = belief.kink**2 * _matern(0.5, distance, KINK_LENGTH)
    by_colour = _matern(2.5, distance, NUDGE_LENGTH) + 0.3 * _matern(2.5, apart, COLOUR_LENGTH)
    nudged = belief.nudge**2 * nudges * by_colour + belief.second_order**2 * nudges**2
    expected = line + bent + kinked + nudged + 0.2**2 * np.eye(len(device))
    assert (np.ptp(device, axis=1) > 0).any()
    np.testing.assert_allclose(covariance(device, belief, 0.2), expected, rtol=1e-6, atol=1e-6)


@pytest.mark.parametrize("line", range(4))
def test_the_evidence_is_scipys_multivariate_t(line: int) -> None:
    rows = ROWS[line]
    kept = rows >= 0
    departure = (READING.lab[rows[kept]] - expected_lab(CASE.device[kept])).T.ravel()
    expected = stats.multivariate_t.logpdf(
        departure, loc=None, shape=_covariance(kept), df=len(CASE)
    )
    own = log_evidence(CASE, STATE.whole, rows[None])[0] - _of_no_patch(CASE, rows[None])[0]
    assert own == pytest.approx(expected, rel=1e-9)


def test_a_value_without_a_patch_is_bare_paper_or_anything_as_likely() -> None:
    """Paper as SciPy's normal distribution, anything as a uniform one over greys."""
    paper = READING.lab[np.argmax(READING.lab[:, 0])]
    for rows in ROWS:
        surplus = np.delete(READING.lab, rows[rows >= 0], axis=0)
        density = stats.multivariate_normal(paper, 0.7**2).pdf(surplus) / 2 + 0.5 / (100 * 30 * 30)
        expected = np.sum(np.log(density))
        assert _of_no_patch(CASE, rows[None])[0] == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_what_is_expected_of_a_patch_left_out_is_the_conditional_normal_mean() -> None:
    state = Assignment(CASE, ROWS[3], STATE.whole)
    kept, lost = ROWS[3] >= 0, ROWS[3] < 0
    for channel, belief in enumerate((LIGHTNESS, CHROMATICNESS, CHROMATICNESS)):
        matrix = covariance(CASE.device, belief)
        departure = (READING.lab[ROWS[3][kept]] - expected_lab(CASE.device[kept]))[:, channel]
        weights = matrix[np.ix_(lost, kept)] @ np.linalg.inv(matrix[np.ix_(kept, kept)])
        mean = expected_lab(CASE.device[lost])[:, channel] + weights @ departure
        predicted, _ = state.predicted(np.flatnonzero(lost))
        np.testing.assert_allclose(predicted[:, channel], mean, atol=1e-7)


def test_a_strips_misfit_is_that_of_the_conditional_normal_distribution_per_value() -> None:
    """Rasmussen and Williams (2006), equations A.6; its mean is 1 where all is as believed."""
    off = READING.lab - expected_lab(CASE.device)
    assert len(CASE.strips) > 1
    for strip, found in zip(CASE.strips, STATE.strip_misfits, strict=True):
        own = np.isin(np.arange(len(CASE)), strip.slots)
        squares = 0.0
        for belief, values in zip((LIGHTNESS, CHROMATICNESS, CHROMATICNESS), off.T, strict=True):
            total = covariance(CASE.device, belief)
            weights = np.linalg.solve(total[~own][:, ~own], total[~own][:, own]).T
            left = values[own] - weights @ values[~own]
            squares += left @ np.linalg.solve(
                total[own][:, own] - weights @ total[~own][:, own], left
            )
        assert found == pytest.approx(squares / (3 * own.sum()), rel=1e-4)


def test_an_effect_adds_its_covariance() -> None:
    basis = np.random.default_rng(1).normal(0, 1, (len(CASE), 3))
    own = precision(CASE.device).with_effect(basis)
    matrix = covariance(CASE.device, LIGHTNESS) + basis @ basis.T
    np.testing.assert_allclose(own.lightness, np.linalg.inv(matrix), atol=1e-7)
    matrices = [covariance(CASE.device, b) + basis @ basis.T for b in (LIGHTNESS, CHROMATICNESS)]
    determinants = [np.linalg.slogdet(matrix)[1] for matrix in matrices]
    assert own.log_determinant == pytest.approx(determinants[0] + 2 * determinants[1], rel=1e-9)


def test_left_out_patches_are_predicted_by_the_others() -> None:
    mean, _ = STATE.left_out
    for slot in (0, 7):
        rows = CASE.rows.copy()
        rows[slot] = -1
        again, _ = Assignment(CASE, rows, STATE.whole).predicted(np.array([slot]))
        np.testing.assert_allclose(mean[slot], again[0], atol=1e-6)


@pytest.mark.parametrize("sd", [0.15, 0.3, 0.6])
def test_noise_is_learnt_from_repeats(sd: float) -> None:
    layout = chart_layout(1)
    found = [
        noise_of_repeats(layout.device, clean_reading(layout, seed, noise=sd).lab)
        for seed in range(20)
    ]
    next_larger = next(noise for noise in NOISES if noise >= sd)
    assert sd / 1.3 < np.median(found) <= next_larger
