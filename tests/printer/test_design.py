"""Patches are spent where they tell most: by the algebra of Gaussian processes, done plainly."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from support.odd_printers import judged, odd_printer, sheet

from greyscale.charts.chart import make_chart
from greyscale.correction.charts import choose_patches, measured_by
from greyscale.correction.correct import correct
from greyscale.printer.answers import reaches_beside
from greyscale.printer.covariance import Covariance, Pairs, Points
from greyscale.printer.design import _Belief, _candidates, _supposed, design
from greyscale.printer.gaussian_process import BEFOREHAND


def alike(first, second):
    return Covariance(Pairs(Points(first), Points(second)), BEFOREHAND).value


def test_what_is_left_is_the_posterior_variance():
    """Rasmussen and Williams 2006, 2.26, for a linear function of the answers, by one solve."""
    candidates, tones = _candidates(None, 8), _supposed()
    belief = _Belief(candidates, tones, (), BEFOREHAND, 0.15)
    chosen = [3, 400, 400, 17, len(candidates) - 1]
    for index in chosen:
        belief.measure(index)
    measured, places = candidates[chosen], np.vstack([tones, np.ones((1, 3))])
    noisy = alike(measured, measured) + 0.15**2 * np.eye(len(chosen))
    across = alike(places, measured)
    posterior = alike(places, places) - across @ np.linalg.solve(noisy, across.T)
    # The error of a tone is its own less the paper's, of which the aim keeps 15 % at black.
    errors = np.column_stack([np.eye(len(tones)), -(0.15 + 0.85 * tones.mean(axis=1))])
    expected = np.einsum("ij,jk,ik->i", errors, posterior, errors)
    np.testing.assert_allclose(belief.variance, expected, atol=1e-8)


designed = cache(design)


@pytest.mark.parametrize("count", [24, 40, 75])
def test_a_chart_of_few_patches_can_be_corrected_from(count):
    chosen = designed(count)
    device = chosen.patches.device
    assert len(device) == count
    assert reaches_beside(device)
    tones = np.unique(device[np.ptp(device, axis=1) == 0][:, 0])
    assert tones.size >= 7
    assert {0.0, 1.0} <= set(tones)
    again = sum(kind == "repeat" for kind in chosen.patches.kinds())
    assert again == count - len(np.unique(device, axis=0))
    assert again > 0


def test_more_patches_leave_less_and_begin_with_the_same():
    most = designed(147)
    left = most.mean_delta_Ch
    assert len(left) == 148
    assert np.all(np.diff(left) <= 0)
    assert left[147] < 0.5 * left[24]
    for count in (24, 75):
        fewer = designed(count)
        assert fewer.mean_delta_Ch[-1] == pytest.approx(left[count])
        np.testing.assert_array_equal(fewer.patches.device, most.patches.device[:count])


@pytest.mark.exhaustive
def test_few_patches_and_some_more_after_them_correct_a_printer():
    """Kept out of tuning; the usual 147 leave a mean ΔCh of about 0.1 on such printers."""
    who = odd_printer("ordinary", 1)
    device = make_chart("few", chosen=choose_patches(40), code=False).layout.device
    first = sheet(who, 1, device=device)
    made = correct([first])
    # The second chart needs no ramp of its own.
    more = design(20, measured_by(made)).patches.device
    both = correct([first, sheet(who, 2, device=more)])
    assert both.expectation.after_mean_delta_Ch < made.expectation.after_mean_delta_Ch
    assert judged(who, both).mean_Ch < min(0.3, judged(who, made).mean_Ch + 0.05)
