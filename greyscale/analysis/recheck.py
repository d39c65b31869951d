"""When to look at a printer again: how long until what has drifted so far would be noticed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greyscale.analysis.followed import LEAST_READINGS, NOTICED_DELTA_CH, NOTICED_DELTA_L

if TYPE_CHECKING:
    from greyscale.colorimetry.arrays import Array

SHORTEST_WEEKS, USUAL_WEEKS, LONGEST_WEEKS = 1, 4, 26
"""Between two checks: at least, before the drift is known, at most; common practice, no source."""

_DAYS_KNOWN = 14.0  # Over less than this, readings tell of noise, not of drift.
_WEEK = 7.0


@dataclass(frozen=True, eq=False)
class Course:
    """Readings of one print over time, printed and measured alike.

    Attributes
    ----------
    days
        Shape (n,), rising.
    moved
        Shape (n, 3): mean Δa*, Δb* and ΔL* of the tones.
    """

    days: Array
    moved: Array


@dataclass(frozen=True)
class Recheck:
    """After how long to look again.

    Attributes
    ----------
    weeks
        From the last reading on; `SHORTEST_WEEKS` to `LONGEST_WEEKS`.
    known
        Whether the drift seen so far says so; else it is `USUAL_WEEKS`.
    """

    weeks: int
    known: bool


UNKNOWN_DRIFT = Recheck(USUAL_WEEKS, False)


def recheck(courses: Sequence[Course]) -> Recheck:
    """Say when the drift is expected to reach what is noticed side by side.

    Parameters
    ----------
    courses
        Of one printer and paper; each is compared only with itself.

    Examples
    --------
    >>> recheck([])
    Recheck(weeks=4, known=False)
    """
    told = [one for one in courses if len(one.days) >= 2]
    count = sum(len(one.days) for one in told)
    span = max((float(one.days[-1] - one.days[0]) for one in told), default=0.0)
    if count < LEAST_READINGS or span < _DAYS_KNOWN:
        return UNKNOWN_DRIFT
    a, b, L = drift_rate(told)
    fastest = max((a + b) / NOTICED_DELTA_CH**2, L / NOTICED_DELTA_L**2)
    # No further ahead than has been seen.
    most = min(max(span / _WEEK, USUAL_WEEKS), LONGEST_WEEKS)
    weeks = most if fastest <= 0.0 else min(1.0 / fastest / _WEEK, most)
    return Recheck(max(int(weeks), SHORTEST_WEEKS), True)


def drift_rate(courses: Sequence[Course]) -> Array:
    """Compute by how much the variance of each of a course's numbers grows in a day; shape (3,).

    By restricted maximum likelihood of a level that walks at random and is read with noise (the
    local level model of Harvey, 1989, Forecasting, structural time series models and the Kalman
    filter; memory), over a grid of the walk's share.

    Parameters
    ----------
    courses
        At least one of two readings or more.
    """
    import numpy as np

    shares = np.concatenate([[0.0], np.logspace(-4.0, 2.0, 31)])
    count = sum(len(one.days) - 1 for one in courses)
    # The covariance of successive differences: what is walked between, and both readings' noise.
    log_det, squares = np.zeros(len(shares)), np.zeros((len(shares), 3))
    for one in courses:
        steps = np.diff(one.moved, axis=0)
        n = len(steps)
        noise = 2.0 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)
        walked = np.diag(np.diff(one.days))
        covariance = noise + shares[:, np.newaxis, np.newaxis] * walked
        log_det += np.linalg.slogdet(covariance)[1]
        solved = np.linalg.solve(covariance, np.broadcast_to(steps, (len(shares), n, 3)))
        squares += np.sum(steps * solved, axis=1)
    variance = squares / count
    likelihood = -(log_det[:, np.newaxis] + count * np.log(np.maximum(variance, 1e-12))) / 2.0
    best = np.argmax(likelihood, axis=0)
    return np.asarray(shares[best] * variance[best, np.arange(3)])
