"""How far a ramp really is from its aim, given that every tone was read with noise."""

from __future__ import annotations

from functools import lru_cache
from math import atan, exp, lgamma, log, log1p, pi, sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike, Indices, medians

if TYPE_CHECKING:
    from greyscale.analysis.ramp import Ramp

PASS, FAIL, CANNOT_BE_TOLD = "pass", "fail", "cannot be told"

SURE = 0.95
"""A verdict is given from this probability on."""

# So many independent numbers the roughness of a ramp is held to be worth beside the repeats.
_ROUGHNESS_FREEDOM = 8.0
_MOST_NOISE = 0.6  # What scatters more along a ramp is the print's own.
_MEDIAN_OF_TWO = 2 * np.log(2.0)  # Median of chi-squared with two degrees of freedom.
# What a drift may be like, before the data, if there is one: sizes in a*, b*, lengths in level.
_SIZES = (0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.4)
_LENGTHS = (0.01, 0.06, 0.2, 0.6)
_DRAWS = 500
_LARGEST = 150  # Longer ramps are judged by so many tones, spread evenly.


MEAN_LENGTH, LARGEST_LENGTH = sqrt(pi / 2), 2.1
"""The mean length of a vector whose two parts have a standard deviation of one, and what the
largest of some ten such lengths is to be expected at: sqrt(2 ln 10)."""


def verdict_of(probability: float) -> str:
    """Return "pass", "fail" or "cannot be told" by the probability of a pass.

    Examples
    --------
    >>> verdict_of(0.99), verdict_of(0.5), verdict_of(0.01)
    ('pass', 'cannot be told', 'fail')
    """
    if probability >= SURE:
        return PASS
    return FAIL if probability <= 1 - SURE else CANNOT_BE_TOLD


def both(*probabilities: float) -> tuple[str, float]:
    """Return the verdict on several things that must all pass, and the probability that they do.

    One that fails makes the whole fail; all of them must pass for it to pass.

    Examples
    --------
    >>> both(0.99, 0.01)[0], both(0.99, 0.98)[0], both(0.99, 0.5)[0]
    ('fail', 'pass', 'cannot be told')
    """
    each = [verdict_of(one) for one in probabilities]
    together = float(np.prod(probabilities))
    if FAIL in each:
        return FAIL, together
    return (PASS if each == [PASS] * len(each) else CANNOT_BE_TOLD), together


def noise_of(level: Array, delta_ab: Array, counts: Array, sd: float, freedom: float) -> float:
    """Compute the noise of one measurement, per axis, from repeats and from the ramp's roughness.

    Neighbouring tones that scatter more than their repeats tell of noise that the repeats missed,
    as that between places on the page; where nothing was repeated they are all there is.

    Parameters
    ----------
    level, delta_ab, counts
        Shapes (n,), (n, 2), (n,): tones in the order of the ramp.
    sd, freedom
        What the repeats say, and from how many independent numbers; with none, `sd` is a floor.
    """
    if level.size < 5:
        return sd
    share = ((level[1:-1] - level[:-2]) / (level[2:] - level[:-2]))[:, np.newaxis]
    bend = delta_ab[1:-1] - delta_ab[:-2] - share * (delta_ab[2:] - delta_ab[:-2])
    one, low, high = 1 / counts[1:-1], 1 / counts[:-2], 1 / counts[2:]
    weight = share[:, 0]
    variance = one + (1 - weight) ** 2 * low + weight**2 * high
    rough = float(medians(np.sum(bend**2, axis=1) / variance) / _MEDIAN_OF_TWO)
    rough = min(rough, max(_MOST_NOISE, sd) ** 2)
    if freedom <= 0:
        return float(np.sqrt(max(rough, sd**2)))
    pooled = freedom * sd**2 + _ROUGHNESS_FREEDOM * max(rough, sd**2)
    return float(np.sqrt(pooled / (freedom + _ROUGHNESS_FREEDOM)))


def ramp_noise(ramp: Ramp, ab: Array | None = None) -> tuple[float, float]:
    """Return the noise of one measurement of a ramp, per axis of a*, b*, and from how many
    independent numbers it is known, its roughness with them.

    Parameters
    ----------
    ab
        Shape (n, 2): what is rough along the ramp; None takes a*, b* as read.
    """
    tones, known_from = ramp.is_tone, ramp_freedom(ramp)
    own = ramp.lab()[:, 1:] if ab is None else ab
    freedom, sd = known_from - _ROUGHNESS_FREEDOM, ramp.repeatability.sd_Ch
    return noise_of(ramp.level[tones], own[tones], ramp.counts[tones], sd, freedom), known_from


def ramp_freedom(ramp: Ramp) -> float:
    """Return from how many independent numbers a ramp's noise is known, its roughness with them."""
    repeats = ramp.repeatability
    return 2.0 * (repeats.measurements - repeats.repeated) + _ROUGHNESS_FREEDOM


def credible_drifts(level: Array, differences: Array, sd: Array, shared: Array) -> Array:
    """Draw what a ramp's differences may be without the noise, shape (draws, n, axes).

    A drift is held to be a Gaussian process along the ramp, of any of several sizes and lengths,
    none among them; each weighed by its likelihood (Rasmussen and Williams 2006, 5.4.1).

    Parameters
    ----------
    level, differences
        Shapes (n,) and (n, axes): as Δa*, Δb*, or ΔL* alone.
    sd
        Shape (n,): noise of each tone's mean, per axis.
    shared
        Shape (n, k): by how much each of k causes puts the tones off together, per axis.
    """
    random, axes = np.random.default_rng(0), differences.shape[1]
    kernels, logs = _kernels(np.ascontiguousarray(level, dtype=np.float64).tobytes())
    noise = np.diag(np.maximum(sd, 1e-3) ** 2) + shared @ shared.T
    roots = np.linalg.cholesky(kernels + noise)
    scaled = np.linalg.solve(roots, np.broadcast_to(differences, (len(roots), *differences.shape)))
    spread = axes * np.log(np.diagonal(roots, axis1=1, axis2=2)).sum(axis=1)
    logs = logs - 0.5 * np.sum(scaled**2, axis=(1, 2)) - spread
    weights = np.exp(logs - logs.max())
    counts = random.multinomial(_DRAWS, weights / weights.sum())
    drawn = []
    for kernel, root, own, count in zip(kernels, roots, scaled, counts, strict=True):
        if count:
            half = np.linalg.solve(root, kernel)
            # A thousandth of a unit more, so that rounding leaves a root.
            left = np.linalg.cholesky(kernel - half.T @ half + 1e-6 * np.eye(level.size))
            drawn.append(half.T @ own + left @ random.normal(size=(count, level.size, axes)))
    return np.concatenate(drawn)


@lru_cache(maxsize=2)
def _kernels(level: bytes) -> tuple[Array, Array]:
    """The covariances of drifts, shape (k, n, n), and how likely each is before the data."""
    levels = np.frombuffer(level)
    apart = (levels[:, np.newaxis] - levels) ** 2
    kernels, logs = [np.zeros_like(apart)], [0.0]
    for size in _SIZES:
        for length in _LENGTHS:
            # A drift common to all tones is as likely as one that changes along the ramp.
            kernels.append(size**2 * (np.exp(-0.5 * apart / length**2) + 1.0))
            logs.append(-log(len(_LENGTHS)))
    return np.stack(kernels), np.array(logs)


def thinned(count: int) -> Indices:
    """Return the indices of the tones that a ramp of so many is judged by."""
    return np.linspace(0, count - 1, min(count, _LARGEST)).round().astype(np.intp)


@lru_cache(maxsize=1)
def _legendre() -> tuple[Array, Array]:
    return np.polynomial.legendre.leggauss(64)


_ALL_BUT = 90.0  # Beyond √(90 / (ν - 1)) from where it begins, cos(u)^(ν - 1) is gone: below e⁻⁴⁵.


def student_tail(t: ArrayLike, freedom: float) -> Array:
    """Return the probability that Student's t lies beyond a value.

    SciPy has it too, but the import takes longer than an analysis. With t = √ν tan u, Student's
    density becomes cos(u)^(ν - 1), which is summed by Gauss and Legendre.

    Parameters
    ----------
    t
        Any shape, 0 or more.
    freedom
        Degrees of freedom ν, 2 or more.

    Examples
    --------
    >>> student_tail([0.0, 2.776], 4).round(4).tolist()  # Abramowitz and Stegun 1964 (memory)
    [0.5, 0.025]
    """
    nodes, weights = _legendre()
    start = np.arctan(np.asarray(t, dtype=np.float64) / sqrt(freedom))
    half = np.minimum(pi / 2 - start, sqrt(_ALL_BUT / (freedom - 1))) / 2
    at = start[..., np.newaxis] + half[..., np.newaxis] * (nodes + 1)
    sums = np.cos(at) ** (freedom - 1) @ weights
    return np.asarray(_student_size(freedom) * half * sums)


def _student_size(freedom: float) -> float:
    return exp(lgamma((freedom + 1) / 2) - lgamma(freedom / 2)) / sqrt(pi)


@lru_cache
def student_quantile(freedom: float, share: float) -> float:
    """Return what Student's t stays below with a probability of at least a half; right to 1e-6.

    By sums as in `student_tail`.

    Parameters
    ----------
    freedom
        Degrees of freedom ν, 2 or more.
    share
        The probability, from 0.5 to 0.9999.

    Examples
    --------
    >>> round(student_quantile(4, 0.975), 3)  # Abramowitz and Stegun 1964, table 26.10 (memory)
    2.776
    """
    nodes, weights = _legendre()
    size = _student_size(freedom)
    t = NormalDist().inv_cdf(share)
    # The normal quantile is never the larger one, and from below Newton's steps never overshoot.
    for _ in range(200):
        half = atan(t / sqrt(freedom)) / 2
        below = 0.5 + size * half * float(weights @ np.cos(half * (nodes + 1)) ** (freedom - 1))
        density = size / sqrt(freedom) * exp(-(freedom + 1) / 2 * log1p(t * t / freedom))
        step = (share - below) / density
        t += step
        if abs(step) < 1e-12 * (1 + t):
            break
    return t
