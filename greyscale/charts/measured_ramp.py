"""What a reading tells about the tones of its printer: smooth curves, and where it says nothing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.readings.reading import Reading
from greyscale.readings.repeats import ASSUMED_SD, average_repeats

# A smooth curve through a measured ramp, and how uncertain it is at every level.

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
        """Return the curve, shape of `at`."""
        x = np.asarray(at, dtype=np.float64)
        return _basis(x) @ self._line + self.bend_variance * _kernel(x, self.levels) @ self._weights

    def slope(self, at: ArrayLike) -> Array:
        """Return its first derivative."""
        x, y = np.asarray(at, dtype=np.float64)[:, np.newaxis], self.levels
        derivative = np.where(x < y, x * y - x**2 / 2, y**2 / 2)
        return np.asarray(self._line[1] + self.bend_variance * derivative @ self._weights)

    def sd(self, at: ArrayLike, more_levels: ArrayLike = (), more_variance: float = 0.0) -> Array:
        """Return the curve's standard deviation.

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
    """Return the covariance of the integrated Wiener process, shape (len(x), len(y))."""
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
    """Return minus the restricted log likelihood, but for a constant."""
    covariance = variance * _kernel(x, x) + np.diag(noise)
    basis = _basis(x)
    weights, _ = _posterior(variance, x, y, noise)
    _, size = np.linalg.slogdet(covariance)
    _, line_size = np.linalg.slogdet(basis.T @ np.linalg.solve(covariance, basis))
    return float(0.5 * (size + line_size + y @ weights))


LEAST_TONES = 5
CLIPPED_L = 0.5
"""Tones whose L* stays this close to black's, or to paper's, print alike (CIELAB units)."""

CLIPPED_SHARE = 0.4
"""A printer that prints this share of the levels alike is not ready for a follow-up chart."""


@dataclass(frozen=True, eq=False)
class MeasuredRamp:
    """A ramp as it was measured, with smooth curves through it.

    Attributes
    ----------
    levels
        Shape (n,), rising, each once.
    lab
        Shape (n, 3): repeats averaged.
    curves
        Of L*, a*, b* by level.
    sd
        Standard deviation of one measurement's L*, and of its a* and b*.
    clipped_below, clipped_above
        Up to which level everything prints like black, and from which like paper.
    near_neutral_levels, response
        Shape (m,): ΔCh per unit of one channel's nudge, where near-neutral patches tell.
    """

    levels: Array
    lab: Array
    curves: tuple[FittedCurve, FittedCurve, FittedCurve]
    sd: tuple[float, float]
    clipped_below: float
    clipped_above: float
    near_neutral_levels: Array
    response: Array

    def mean(self, at: ArrayLike) -> Array:
        """Return L*, a*, b* of the curves, shape (k, 3)."""
        return np.stack([curve.mean(at) for curve in self.curves], axis=-1)

    def turn(self, at: ArrayLike) -> Array:
        """Return how much the slope changes about each level, CIELAB per unit of level, shape (k,).

        A smooth curve through measured tones spreads a sharp bend over about three of their
        steps, so that is how far on both sides together the slopes are compared.
        """
        x = np.asarray(at, dtype=np.float64)
        reach = 1.5 * float(np.median(np.diff(self.levels)))
        before, after = np.maximum(x - reach, 0.0), np.minimum(x + reach, 1.0)
        turns = [curve.slope(after) - curve.slope(before) for curve in self.curves]
        return np.asarray(np.linalg.norm(turns, axis=0))

    def drift_speed(self, at: ArrayLike) -> Array:
        """Return how fast a*, b* move with the level, shape (k,)."""
        return np.asarray(np.linalg.norm([curve.slope(at) for curve in self.curves[1:]], axis=0))

    def uncertainty(self, at: ArrayLike, more_levels: ArrayLike = ()) -> Array:
        """The standard deviation of L*, a*, b* together, with more levels measured or not."""
        noise = (self.sd[0], self.sd[1], self.sd[1])
        each = [
            curve.sd(at, more_levels, sd**2) for curve, sd in zip(self.curves, noise, strict=True)
        ]
        return np.asarray(np.linalg.norm(each, axis=0))


def measured_ramp(reading: Reading) -> MeasuredRamp:
    """Fit the ramp of a reading.

    Raises
    ------
    BadInput
        If there are fewer than five tones, they do not reach from black to paper, L* does not
        rise from black to paper, or a large share of the levels prints alike.
    """
    averaged = average_repeats(reading)
    whole = averaged.reading
    ramp = np.flatnonzero(whole.on_axis)
    ramp = ramp[np.argsort(whole.level[ramp])]
    levels, lab = whole.level[ramp], whole.lab[ramp]
    _check_ramp(levels, lab, reading.source)

    known = averaged.repeatability
    sd = (known.sd_L, known.sd_Ch) if known.known else (ASSUMED_SD, ASSUMED_SD)
    root = np.sqrt(averaged.counts[ramp])
    curve_L, curve_a, curve_b = (
        fit_curve(levels, lab[:, i], each / root) for i, each in enumerate((sd[0], sd[1], sd[1]))
    )
    below, above = _clipped(levels, lab, sd[0])
    _check_clipping(below, above, lab, reading.source)
    curves = (curve_L, curve_a, curve_b)
    answered, response = _response(whole, curves)
    return MeasuredRamp(levels, lab, curves, sd, below, above, answered, response)


def _check_ramp(levels: Array, lab: Array, source: str) -> None:
    if levels.size < LEAST_TONES:
        raise BadInput(
            f"{levels.size} tones of the grey axis are too few to plan a follow-up chart; "
            f"measure a chart of at least {LEAST_TONES} tones first",
            source,
        )
    if levels[0] > 0.02 or levels[-1] < 0.98:
        raise BadInput(
            f"the tones reach from level {levels[0]:.2f} to {levels[-1]:.2f} only; a follow-up "
            "chart needs a reading with black (0) and paper (1)",
            source,
        )
    # Kendall's sense: how many pairs of tones stand the right way round.
    rises = np.sign(lab[:, np.newaxis, 0] - lab[np.newaxis, :, 0])
    right = rises[np.tril_indices(levels.size, -1)].mean()
    if lab[-1, 0] <= lab[0, 0] or right < 0.5:
        raise BadInput(
            f"L* does not rise from black ({lab[0, 0]:.1f}) to paper ({lab[-1, 0]:.1f}); the "
            "layout may not be this reading's: run the check on it first",
            source,
        )


def _clipped(levels: Array, lab: Array, sd: float) -> tuple[float, float]:
    """Say up to which level everything prints like black, and from which like paper."""
    alike = max(CLIPPED_L, 3 * np.sqrt(2) * sd)
    L = lab[:, 0]
    unlike_black = np.flatnonzero(np.abs(L - L[0]) > alike)
    unlike_paper = np.flatnonzero(np.abs(L - L[-1]) > alike)
    return float(levels[unlike_black[0] - 1]), float(levels[unlike_paper[-1] + 1])


def _check_clipping(below: float, above: float, lab: Array, source: str) -> None:
    lost = below + (1.0 - above)
    if lost < CLIPPED_SHARE:
        return
    parts = []
    if below > 0:
        parts.append(f"levels 0 to {below:.2f} all print like black (L* {lab[0, 0]:.1f})")
    if above < 1:
        parts.append(f"levels {above:.2f} to 1 all print like paper (L* {lab[-1, 0]:.1f})")
    raise BadInput(
        f"{' and '.join(parts)}: {100 * lost:.0f} % of the tones are clipped. More patches "
        "cannot help; look at the paper setting, the ink limit and the colour management of the "
        "print, and print the starting chart again",
        source,
    )


def _response(
    whole: Reading, curves: tuple[FittedCurve, FittedCurve, FittedCurve]
) -> tuple[Array, Array]:
    """Say how far a*, b* moved per unit of a single channel, for each near-neutral patch."""
    beside = np.flatnonzero(~whole.on_axis)
    if beside.size == 0:
        return np.empty(0), np.empty(0)
    device, level = whole.device[beside], whole.level[beside]
    on_axis = np.stack([curve.mean(level) for curve in curves[1:]], axis=-1)
    moved = np.linalg.norm(whole.lab[beside, 1:] - on_axis, axis=1)
    # One channel nudged by 1 lies sqrt(2/3) off the axis.
    nudge = np.linalg.norm(device - level[:, np.newaxis], axis=1) / np.sqrt(2 / 3)
    near = nudge < 0.4
    order = np.argsort(level[near])
    levels, response = level[near][order], (moved / nudge)[near][order]
    if levels.size < 12:
        return np.empty(0), np.empty(0)
    # Answers differ with the channel, so they are pooled by twelves along the ramp.
    pools = np.array_split(np.arange(levels.size), max(1, levels.size // 12))
    return (
        np.array([levels[pool].mean() for pool in pools]),
        np.array([np.median(response[pool]) for pool in pools]),
    )
