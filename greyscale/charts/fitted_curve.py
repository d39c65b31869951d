"""A smooth curve through a measured ramp, and how uncertain it is at every level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike

_LEAST_SD = 0.02
"""Noise is held to be at least this (CIELAB units): instruments show two decimals."""

# Range of log10 of the curve's variance in which the likelihood is searched: from a straight
# line to a curve that turns in every step.
_LOG_VARIANCE = (-4.0, 9.0)


@dataclass(frozen=True, eq=False)
class FittedCurve:
    """A cubic smoothing spline with its posterior, the noise being known.

    The curve is held to be a straight line of any slope plus a once integrated Wiener process.
    Its posterior mean is the cubic smoothing spline, and its posterior variance the uncertainty
    (Wahba, 1983, Bayesian "confidence intervals" for the cross-validated smoothing spline,
    Journal of the Royal Statistical Society B 45). How much it may bend is chosen by restricted
    maximum likelihood.

    Attributes
    ----------
    levels
        Shape (n,), distinct: where it was measured.
    noise_variance
        Shape (n,): variance of each measured value.
    bend_variance
        Variance of the Wiener process: how much the curve bends.
    """

    levels: Array
    noise_variance: Array
    bend_variance: float
    _weights: Array
    _line: Array

    def mean(self, at: ArrayLike) -> Array:
        """Give the curve, shape of `at`."""
        x = np.asarray(at, dtype=np.float64)
        return _basis(x) @ self._line + self.bend_variance * _kernel(x, self.levels) @ self._weights

    def slope(self, at: ArrayLike) -> Array:
        """Give its first derivative."""
        x, y = np.asarray(at, dtype=np.float64)[:, np.newaxis], self.levels
        derivative = np.where(x < y, x * y - x**2 / 2, y**2 / 2)
        return np.asarray(self._line[1] + self.bend_variance * derivative @ self._weights)

    def sd(self, at: ArrayLike, more_levels: ArrayLike = (), more_variance: float = 0.0) -> Array:
        """Give the curve's standard deviation.

        Parameters
        ----------
        at
            Shape (k,).
        more_levels
            Shape (m,): levels held to be measured too; what they measure does not matter.
        more_variance
            Noise variance of those.
        """
        x = np.asarray(at, dtype=np.float64)
        more = np.asarray(more_levels, dtype=np.float64).reshape(-1)
        levels = np.concatenate([self.levels, more])
        noise = np.concatenate([self.noise_variance, np.full(more.size, more_variance)])
        covariance = self.bend_variance * _kernel(levels, levels) + np.diag(noise)
        basis = _basis(levels)
        across = self.bend_variance * _kernel(x, levels)
        solved = np.linalg.solve(covariance, np.column_stack([basis, across.T]))
        line_precision = basis.T @ solved[:, :2]
        remainder = _basis(x) - across @ solved[:, :2]
        variance = (
            self.bend_variance * (x**3 / 3)
            - np.einsum("ij,ji->i", across, solved[:, 2:])
            + np.einsum("ij,ji->i", remainder, np.linalg.solve(line_precision, remainder.T))
        )
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))


def fit_curve(levels: ArrayLike, values: ArrayLike, sd: ArrayLike) -> FittedCurve:
    """Fit a smooth curve.

    Parameters
    ----------
    levels, values
        Shape (n,), n at least 4, levels distinct.
    sd
        Standard deviation of the values' noise, one or (n,).

    Examples
    --------
    >>> x = np.linspace(0, 1, 9)
    >>> fit_curve(x, 20 + 75 * x, 0.1).mean([0.3]).round(3).tolist()
    [42.5]
    """
    from scipy.optimize import minimize_scalar

    x = np.asarray(levels, dtype=np.float64)
    y = np.asarray(values, dtype=np.float64)
    noise = np.broadcast_to(np.maximum(np.asarray(sd, dtype=float), _LEAST_SD) ** 2, x.shape)
    found = minimize_scalar(
        lambda power: _misfit(10.0**power, x, y, noise), bounds=_LOG_VARIANCE, method="bounded"
    )
    variance = float(10.0**found.x)
    weights, line = _posterior(variance, x, y, noise)
    return FittedCurve(x, np.asarray(noise), variance, weights, line)


def _kernel(x: Array, y: Array) -> Array:
    """Give the covariance of the integrated Wiener process, shape (len(x), len(y))."""
    low = np.minimum(x[:, np.newaxis], y)
    return np.asarray(low**3 / 3 + np.abs(x[:, np.newaxis] - y) * low**2 / 2)


def _basis(x: Array) -> Array:
    return np.column_stack([np.ones_like(x), x])


def _posterior(variance: float, x: Array, y: Array, noise: Array) -> tuple[Array, Array]:
    covariance = variance * _kernel(x, x) + np.diag(noise)
    basis = _basis(x)
    solved = np.linalg.solve(covariance, np.column_stack([basis, y]))
    line = np.linalg.solve(basis.T @ solved[:, :2], basis.T @ solved[:, 2])
    return solved[:, 2] - solved[:, :2] @ line, line


def _misfit(variance: float, x: Array, y: Array, noise: Array) -> float:
    """Give minus the restricted log likelihood, but for a constant."""
    covariance = variance * _kernel(x, x) + np.diag(noise)
    basis = _basis(x)
    weights, _ = _posterior(variance, x, y, noise)
    _, size = np.linalg.slogdet(covariance)
    _, line_size = np.linalg.slogdet(basis.T @ np.linalg.solve(covariance, basis))
    return float(0.5 * (size + line_size + y @ weights))
