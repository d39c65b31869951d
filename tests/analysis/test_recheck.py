"""When to look again, on printers whose drift is simulated and so known."""

from __future__ import annotations

import numpy as np
import pytest

from greyscale.analysis.what_next import History, Recheck, drift_rate, recheck


def drifting(seed: int, weeks: float, readings: int = 30, noise: float = 0.08) -> History:
    """Some weekly readings of a printer whose a*, b* walk by ΔCh 0.5 (root mean square) in so many
    weeks; L* stays."""
    random = np.random.default_rng(seed)
    days = np.cumsum(7.0 + random.integers(-2, 3, readings))
    share = np.sqrt(np.diff(days, prepend=days[0])[:, np.newaxis] / (7 * weeks))
    walked = np.cumsum(random.normal(0.0, 0.5 / np.sqrt(2), (readings, 3)) * share, axis=0)
    return History(days, walked * [1, 1, 0] + random.normal(0.0, noise, (readings, 3)))


@pytest.mark.parametrize("weeks", [3, 8, 16])
def test_the_time_until_a_drift_is_noticed_is_found(weeks):
    found = np.array([recheck([drifting(seed, weeks)]).weeks for seed in range(100)])
    assert np.median(found) == pytest.approx(weeks, rel=0.25)
    assert np.mean((found >= weeks / 2) & (found <= 2 * weeks)) >= 0.85


def test_drift_is_told_from_noise():
    """A steady printer read with noise has no drift, however far its readings lie apart."""
    rates = [drift_rate([drifting(seed, 1e6, noise=0.3)]).sum() for seed in range(50)]
    assert np.median(rates) * 7 * 8 < 0.05


def test_courses_are_compared_only_with_themselves():
    """Two sorts of prints of one printer, with unlike aims: the step between them is no drift."""
    one, other = drifting(1, 8), drifting(2, 8)
    apart = History(other.days, other.moved + np.array([5.0, 0.0, 0.0]))
    assert recheck([one, apart]) == recheck([one, other])


def test_what_is_not_known_is_not_supposed():
    """Few readings, or of a few days, tell nothing; and nobody looks further ahead than back."""
    history = drifting(3, 1e6, readings=30)
    assert recheck([History(history.days[:4], history.moved[:4])]) == Recheck(4, False)
    assert recheck([History(history.days / 100, history.moved)]) == Recheck(4, False)
    eight = recheck([History(history.days[:9], history.moved[:9])])
    assert eight.known
    assert eight.weeks <= 9
