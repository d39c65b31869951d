"""One answer of the printer (L*, a* or b*) as a Gaussian process, its parameters by evidence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.printer.covariance import (
    PARAMETERS,
    AnswerByLine,
    Covariance,
    Pairs,
    PairsWithin,
    Points,
    variance,
)
from greyscale.readings.reading import AXIS_TOLERANCE

# Beforehand, each parameter is log-normal: median, and standard deviation of the logarithm
# downwards and upwards. Sizes are in CIELAB units, slopes per 0.05 of offset; found to fit
# published and simulated printers. That the axis departs from its aim at all is left open: a
# printer that is neutral already must be able to say so.
_BEFOREHAND = {
    "axis": (3.0, 3.0, 1.0),
    "slope_constant": (0.75, 1.0, 1.0),
    "slope": (0.4, 1.0, 1.0),
    "bend": (0.04, 1.0, 1.0),
    "crease": (0.05, 1.5, 1.5),
    "red": (3.0, 1.5, 1.0),
    "green": (3.0, 1.5, 1.0),
    "blue": (3.0, 1.5, 1.0),
    "onset": (40.0, 1.0, 1.0),
    "length_axis": (0.35, 0.7, 0.7),
    "length_slope": (0.5, 0.7, 0.7),
    "length_channel": (0.6, 0.7, 0.7),
    "length_onset": (0.7, 0.7, 0.7),
    "stretch_black": (0.02, 1.0, 1.0),
    "stretch_paper": (0.02, 1.0, 1.0),
}
BEFOREHAND = np.log([_BEFOREHAND[name][0] for name in PARAMETERS])
"""Logarithms of the medians."""

_DOWN = np.array([_BEFOREHAND[name][1] for name in PARAMETERS])
_UP = np.array([_BEFOREHAND[name][2] for name in PARAMETERS])
_BESIDE = np.array([name in ("slope_constant", "slope", "bend", "crease") for name in PARAMETERS])
_REACH = 3.0  # Standard deviations that a parameter may be from its median.
_MOST_STEPS = 40
# What no smooth curve follows, the steps of a driver or the kinks of its table: by how much each
# device value departs from it, alike whenever it is printed. Its logarithm, median and standard
# deviation: wide, so that the evidence decides; common practice, no source.
_DETAIL, _DETAIL_SD = float(np.log(0.02)), 1.6
# How far apart it is in L*, a* and b*, as a standard deviation of its logarithm; common practice,
# no source.
_DETAIL_APART = 0.5
_DETAILS = np.geomspace(0.005, 2.0, 18)
_MOST_LEFT = 2.0  # Of its standard deviations, by which a detail makes noise louder, or less.
# By how much more the noise of black is than that of paper, as a logarithm: standard deviation.
_DARKER = 1.0
# The share of the noise that wanders over the page, beforehand: logarithm of its odds, median and
# standard deviation; common practice, no source.
_WANDERS, _WANDERS_SD = float(np.log(0.15 / 0.85)), 1.5
_SUREST = 0.01  # No noise is known better than to a hundredth.
_SD_KEPT = 16  # Sets of points whose standard deviations are kept.
_TINY = 1e-6  # Added to variances, so that rounding leaves every matrix positive definite.


@dataclass(frozen=True, eq=False)
class GaussianProcess:
    """What the evidence makes of one answer.

    Attributes
    ----------
    points
        The n device values measured.
    log_parameters
        Shape (15,), of `covariance.PARAMETERS`.
    noisier
        Shape (n,): how many times as noisy each measurement is as its repeats tell.
    detail
        By how much device values depart from any smooth curve: standard deviation. The most
        probable of this answer alone, or what `with_expected_detail` puts in its place.
    factor
        Shape (n, n): lower Cholesky factor of the covariance of what was measured. It, `weights`
        and `left_out` keep to the most probable detail of this answer alone in either case.
    weights
        Shape (n,): the covariance's inverse times what was measured.
    log_evidence
        Logarithm of the probability of what was measured, that of the parameters included.
    evidence_of_details
        Shape (18,): what the logarithm would be with each detail of `_DETAILS`, but for a constant
        and for how probable that detail is beforehand.
    sd_found
        Standard deviations that were asked for, by the device values.
    """

    points: Points
    log_parameters: Array
    noisier: Array
    detail: float
    factor: Array
    weights: Array
    log_evidence: float
    evidence_of_details: Array
    sd_found: dict[bytes, Array] = field(default_factory=dict, repr=False)

    def mean(self, points: Points) -> Array:
        """Return the answer to be expected at m points, shape (m,)."""
        return self._by_line.at(points)

    def sd(self, points: Points) -> Array:
        """Return the standard deviation of that expectation, shape (m,).

        It rests on where was measured, and not on what: the same points are asked for again and
        again, as under other lights.
        """
        asked = points.device.tobytes()
        if asked not in self.sd_found:
            if len(self.sd_found) >= _SD_KEPT:
                self.sd_found.clear()
            self.sd_found[asked] = self._sd(points)
        return self.sd_found[asked]

    def _sd(self, points: Points) -> Array:
        from scipy.linalg import solve_triangular

        known = solve_triangular(
            self.factor, self._covariance(points).T, lower=True, check_finite=False
        )
        left = variance(points, self.log_parameters) - np.sum(known**2, axis=0)
        return np.asarray(np.sqrt(np.maximum(left, 0.0) + self.detail**2))

    def left_out(self, noise: Array, supposed: Array) -> tuple[Array, Array]:
        """Compute what was measured less what all the rest lets expect, and its standard deviation.

        Shape (n,) each, free from the factor (Rasmussen and Williams 2006, 5.10 to 5.12).

        Parameters
        ----------
        noise
            Shape (n,): variance that each measurement has if nothing is wrong with it.
        supposed
            Shape (n,): variance that the fit was made with.
        """
        precision = np.diag(_inverse(self.factor))
        spread = 1.0 / precision + (noise - supposed) * self.noisier**2
        return self.weights / precision, np.asarray(np.sqrt(np.maximum(spread, _TINY)))

    def conditioned_on(self, answer: Array) -> GaussianProcess:
        """The process with the same parameters, for other measurements (n,) of the same points."""
        return replace(self, weights=_solved(self.factor, answer))

    def mean_of(self, answers: Array, points: Points) -> Array:
        """The expectation of other answers (n, k) of the same points at m points, shape (m, k)."""
        return np.asarray(self._covariance(points) @ _solved(self.factor, answers))

    @cached_property
    def _by_line(self) -> AnswerByLine:
        return AnswerByLine.tabulated(self.points, self.weights, self.log_parameters)

    def _covariance(self, points: Points) -> Array:
        return Covariance(Pairs(points, self.points), self.log_parameters).value


def with_expected_detail(processes: Sequence[GaussianProcess]) -> list[GaussianProcess]:
    """The processes, each with the root of its detail's expected square.

    What is detail and what is noise, one answer alone tells badly. Steps of inks are in all three,
    about as large: what the others tell is what is to be expected of each beforehand.
    """
    size = np.log(_DETAILS)
    alike = np.exp(-0.5 * ((size[:, np.newaxis] - size) / _DETAIL_APART) ** 2)
    own = [np.exp(e - e.max()) for e in (one.evidence_of_details for one in processes)]
    told = [alike @ one for one in own]
    before = np.exp(-0.5 * ((size - _DETAIL) / _DETAIL_SD) ** 2)
    found = []
    for number, process in enumerate(processes):
        others = np.prod(told[:number] + told[number + 1 :], axis=0)
        weights = own[number] * (alike @ (before * others))
        square = float(weights @ _DETAILS**2 / weights.sum())
        found.append(replace(process, detail=float(np.sqrt(square))))
    return found


def fit_process(
    pairs: PairsWithin,
    answer: Array,
    noise: Array,
    *,
    noise_spread: float = 0.0,
    alone: bool = False,
    page: Array | None = None,
) -> GaussianProcess:
    """Find the parameters that make what was measured most probable, and condition on it.

    Parameters
    ----------
    pairs
        Those of the n device values measured.
    answer
        Shape (n,): what was measured, less what the general prior says.
    noise
        Shape (n,): variance of each.
    noise_spread
        Standard deviation of the logarithm of the noise: how surely repeats tell it. What few
        repeats say is weighed against how the evidence scatters.
    alone
        Whether only a ramp was measured. Then how much the slopes beside the axis may differ from
        the prior is not told by the evidence, and is not taken for less than the median.
    page
        Of each pair, the covariance of their noise if all of it wandered over the page; what share
        of it does is told by the evidence. None where it is white.
    """
    from scipy.optimize import minimize

    page = np.zeros(1) if page is None else page
    beside = _Beside(pairs, noise, max(noise_spread, _SUREST), page)

    def cost(unknowns: Array) -> tuple[float, Array]:
        own = unknowns[-_BESIDES:]
        value, slopes, on_diagonal, of_pairs = _minus_log_evidence(
            pairs, answer, beside.alone(own), unknowns[:-_BESIDES], beside.together(own)
        )
        value += 0.5 * float(own @ own)
        return value, np.append(slopes, own + beside.slopes(own, on_diagonal, of_pairs))

    lowest = BEFOREHAND - _REACH * _DOWN
    if alone:
        lowest = np.where(_BESIDE, BEFOREHAND, lowest)
    found = minimize(
        cost,
        np.append(BEFOREHAND, _START),
        jac=True,
        method="L-BFGS-B",
        bounds=[*zip(lowest, BEFOREHAND + _REACH * _UP, strict=True)]
        + [(-_REACH, _REACH)] * _BESIDES,
        options={"maxiter": _MOST_STEPS, "ftol": 1e-4},
    )
    parameters, own = found.x[:-_BESIDES], found.x[-_BESIDES:]
    smooth = Covariance(pairs, parameters).value
    factor = beside.factor(smooth, own)
    return GaussianProcess(
        pairs.points, parameters, beside.noisier(own), beside.detail(own), factor,
        _solved(factor, answer), -float(found.fun), beside.evidence_of_details(smooth, answer, own),
    )  # fmt: skip


_BESIDES = 4
# Where the search starts: from a small detail no step shows that a large one explains more.
_START = np.array([0.0, 0.0, 0.0, 1.4])


@dataclass(frozen=True, eq=False)
class _Beside:
    """What comes beside the smooth answer, by four unknowns that are standard normal beforehand.

    How many times as loud the noise is as supposed, what share of it wanders over the page, how
    much more of it there is in the dark, and how large the detail is.

    Attributes
    ----------
    pairs
        Of the n measurements.
    noise
        Shape (n,): variance of each as supposed.
    spread
        Standard deviation of the logarithm of how loud it is.
    page
        Of the pairs: what wanders over the page if all noise does, less that noise.
    """

    pairs: PairsWithin
    noise: Array
    spread: float
    page: Array

    @cached_property
    def dark(self) -> Array:
        """From -0.5 at paper white to 0.5 at black, shape (n,)."""
        return np.asarray(0.5 - self.pairs.points.level)

    @cached_property
    def shared(self) -> Array:
        """The share of their channels that pairs have alike; 0 of each measurement with itself."""
        # Rounded, since what is only near to each other need not share what others do.
        first, second = (
            np.round(one.device / AXIS_TOLERANCE) for one in (self.pairs.first, self.pairs.second)
        )
        alike = np.mean(first == second, axis=1)
        alike[np.cumsum(np.arange(1, len(self.noise) + 1)) - 1] = 0.0
        return np.asarray(alike)

    @cached_property
    def dark_of_pairs(self) -> Array:
        """The sum of both of each pair."""
        return np.asarray(1.0 - self.pairs.first.level - self.pairs.second.level)

    def noisier(self, own: Array) -> Array:
        """How many times as noisy each measurement is as supposed."""
        return np.asarray(np.exp(own[0] * self.spread + own[2] * _DARKER * self.dark))

    def detail(self, own: Array) -> float:
        """See `GaussianProcess`."""
        return float(np.exp(_DETAIL + own[3] * _DETAIL_SD))

    def factor(self, smooth: Array, own: Array) -> Array:
        """Cholesky factor of the covariance of the measurements, of that of the smooth answer."""
        return _factor(self.pairs.matrix(smooth + self.together(own)), self.alone(own))

    def evidence_of_details(self, smooth: Array, answer: Array, own: Array) -> Array:
        """Log evidence of each detail of `_DETAILS`, with the noise that it leaves to the rest."""
        noise = np.median(self.noise * self.noisier(own) ** 2)
        left = np.maximum(1.0 + (self.detail(own) ** 2 - _DETAILS**2) / noise, _TINY)
        louder = np.clip(0.5 * np.log(left) / self.spread, -_MOST_LEFT, _MOST_LEFT)
        evidence = np.empty(len(_DETAILS))
        for number, size in enumerate((np.log(_DETAILS) - _DETAIL) / _DETAIL_SD):
            other = np.array([own[0] + louder[number], own[1], own[2], size])
            factor = self.factor(smooth, other)
            explained = answer @ _solved(factor, answer) + other[0] ** 2
            evidence[number] = -0.5 * explained - np.log(np.diag(factor)).sum()
        return evidence

    def _share(self, own: Array) -> float:
        odds = np.exp(_WANDERS + _WANDERS_SD * own[1])
        return float(odds / (1.0 + odds))

    def alone(self, own: Array) -> Array:
        """The variance of each measurement that no other shares, shape (n,)."""
        return np.asarray(self.noise * self.noisier(own) ** 2 + self.detail(own) ** 2)

    def together(self, own: Array) -> Array:
        """The covariance of pairs, less what of it is in `alone`.

        What wanders over the page; and the detail, which is each channel's own: near-neutral
        patches of one tone share two of them, and with these their rounding.
        """
        return np.asarray(self._wandering(own) + self.detail(own) ** 2 * self.shared)

    def _wandering(self, own: Array) -> Array:
        louder = 2 * own[0] * self.spread + own[2] * _DARKER * self.dark_of_pairs
        return np.asarray(self._share(own) * np.exp(louder) * self.page)

    def slopes(self, own: Array, on_diagonal: Array, of_pairs: Array) -> Array:
        """Derivatives of minus the log evidence by the unknowns: (4,).

        Parameters
        ----------
        on_diagonal, of_pairs
            As `_minus_log_evidence` gives them.
        """
        noise = on_diagonal * self.noise * self.noisier(own) ** 2
        page, shared = of_pairs * self._wandering(own), float(of_pairs @ self.shared)
        darker = noise @ self.dark + np.sum(page * self.dark_of_pairs)
        return np.array(
            [
                self.spread * (noise.sum() + 2 * page.sum()),
                _WANDERS_SD * (1.0 - self._share(own)) * page.sum(),
                _DARKER * darker,
                _DETAIL_SD * self.detail(own) ** 2 * (on_diagonal.sum() + 2 * shared),
            ]
        )


def _factor(covariance: Array, noise: Array) -> Array:
    """Factor a covariance, of which the lower triangle is looked at, with noise: overwrites it."""
    from scipy.linalg import cholesky

    covariance[np.diag_indices_from(covariance)] += noise + _TINY
    return np.asarray(cholesky(covariance, lower=True, check_finite=False, overwrite_a=True))


def _solved(factor: Array, right: Array) -> Array:
    from scipy.linalg import cho_solve

    return np.asarray(cho_solve((factor, True), right, check_finite=False))


def _minus_log_evidence(
    pairs: PairsWithin,
    answer: Array,
    noise: Array,
    log_parameters: Array,
    together: Array | float = 0.0,
) -> tuple[float, Array, Array, Array]:
    """Minus the log evidence, its gradient, twice its derivative by what is on the diagonal.

    And its derivative by what pairs have in common, each of them once.

    Rasmussen and Williams 2006, 5.8 and 5.9.
    """
    covariance = Covariance(pairs, log_parameters)
    factor = _factor(pairs.matrix(covariance.value + together), noise)
    weights = _solved(factor, answer)
    surplus = _inverse(factor) - np.outer(weights, weights)
    away = log_parameters - BEFOREHAND
    spread = np.where(away < 0, _DOWN, _UP)
    value = 0.5 * answer @ weights + np.log(np.diag(factor)).sum()
    value += 0.5 * np.sum((away / spread) ** 2)
    folded = pairs.folded(surplus)
    slopes = 0.5 * covariance.slopes(folded)
    on_diagonal, of_pairs = np.diag(surplus), 0.5 * folded
    return float(value), slopes + away / spread**2, on_diagonal, of_pairs


def _inverse(factor: Array) -> Array:
    """The lower triangle of a matrix's inverse, by its factor."""
    from scipy.linalg.lapack import dpotri

    inverse, _ = dpotri(factor, lower=1)
    return np.asarray(inverse)
