"""How alike patches of alike device values measure on any printer: the checks' only belief.

No printer is known. What is believed of all of them: L* rises with level, roughly from 10 to 95,
by a curve that may bend and kink; a* and b* drift by some units; a nudged channel moves CIELAB in
proportion, by an amount that changes slowly with tone. Written as a Gaussian process over device
values, this gives the likelihood of any assignment of measurements to patches in closed form
(Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, chapter 2).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np

from greyscale.base.matern import matern_32, matern_52
from greyscale.colorimetry.arrays import Array
from greyscale.readings.repeats import same_device

NOISE = 0.15
"""Standard deviation of one measurement, in each of L*, a*, b*, that the belief starts from."""

NOISES = (NOISE, 0.2, 0.27, 0.36, 0.5, 0.7)
"""What it may be where repeats scatter more."""


@dataclass(frozen=True)
class Belief:
    """Sizes of what is believed, as standard deviations in CIELAB units.

    Attributes
    ----------
    offset, slope
        Of the straight line over level.
    bend
        Of the departure from it, over distances in level of `bend_length`.
    kink
        Of small departures over distances of `KINK_LENGTH`.
    nudge
        Of the answer to one channel's departure from the mean of the three, per unit.
    second_order
        Of the same, per unit squared.
    """

    offset: float
    slope: float
    bend: float
    kink: float
    nudge: float
    second_order: float


LIGHTNESS = Belief(offset=15, slope=30, bend=12, kink=0.3, nudge=60, second_order=200)
CHROMATICNESS = Belief(offset=4, slope=4, bend=5, kink=0.2, nudge=60, second_order=200)

BEND_LENGTH, KINK_LENGTH, NUDGE_LENGTH, COLOUR_LENGTH = 0.25, 0.1, 0.4, 0.2
_L_BLACK, _L_RISE = 10.0, 85.0

FEWEST_REPEATED = 3
"""Repeated device values without which the noise is not estimated."""

CHI_MEDIAN = 1.538  # Median length of a normal vector in three dimensions, in its sd.
_LENIENT = 1.2  # By so much the median of few repeats may exceed the noise by chance.


def expected_lab(device: Array) -> Array:
    """Return what is believed before anything is measured: a neutral ramp; (n, 3) to (n, 3)."""
    lab = np.zeros_like(device)
    lab[:, 0] = _L_BLACK + _L_RISE * device.mean(axis=1)
    return lab


def covariance(device: Array, belief: Belief, noise: float = NOISE) -> Array:
    """Return the covariance of measurements of patches with these device values, shape (n, n)."""
    level = device.mean(axis=1)
    nudge = device - level[:, None]
    apart = np.abs(level[:, None] - level)
    squared = np.sum(device**2, axis=1)
    colour_apart = np.sqrt(np.maximum(squared[:, None] + squared - 2.0 * device @ device.T, 0.0))
    alike = nudge @ nudge.T
    centred = level - 0.5
    total = belief.offset**2 + belief.slope**2 * np.outer(centred, centred)
    total += belief.bend**2 * matern_32(np.sqrt(3.0) / BEND_LENGTH * apart)
    total += belief.kink**2 * np.exp(-apart / KINK_LENGTH)
    total += alike * belief.nudge**2 * matern_52(np.sqrt(5.0) / NUDGE_LENGTH * apart)
    total += alike * belief.nudge**2 * 0.3 * matern_52(np.sqrt(5.0) / COLOUR_LENGTH * colour_apart)
    total += (belief.second_order * alike) ** 2
    total[np.diag_indices_from(total)] += noise**2
    return np.asarray(total)


@dataclass(frozen=True, eq=False)
class Precision:
    """Inverse covariance of the measurements of a chart's patches.

    Attributes
    ----------
    lightness, chromaticness
        Shape (n, n), for L*, and for a* and b* alike.
    log_determinant
        Of the covariance of L*, a* and b* together.
    """

    lightness: Array
    chromaticness: Array
    log_determinant: float

    @property
    def channels(self) -> tuple[Array, Array, Array]:
        """One matrix for each of L*, a*, b*."""
        return self.lightness, self.chromaticness, self.chromaticness

    def with_effect(self, basis: Array) -> Precision:
        """Believe in an effect besides: any combination of curves over the patches.

        Parameters
        ----------
        basis
            Shape (n, k): the curves, each times the standard deviation that its share in L*, in
            a* and in b* is believed to have.
        """
        lightness, L_determinant = _with_effect(self.lightness, basis)
        chromaticness, ab_determinant = _with_effect(self.chromaticness, basis)
        determinant = self.log_determinant + L_determinant + 2.0 * ab_determinant
        return Precision(lightness, chromaticness, determinant)


def _with_effect(matrix: Array, basis: Array) -> tuple[Array, float]:
    """Return the inverse of (inverse of `matrix` + basis basisᵀ), and by what ln det grows."""
    weighted = matrix @ basis
    inner = np.eye(basis.shape[1]) + basis.T @ weighted
    reduced = matrix - weighted @ np.linalg.solve(inner, weighted.T)
    return reduced, float(np.linalg.slogdet(inner)[1])


def _inverse(matrix: Array) -> tuple[Array, float]:
    lower = np.linalg.cholesky(matrix)
    inverse_lower = np.linalg.solve(lower, np.eye(len(matrix)))
    return inverse_lower.T @ inverse_lower, 2.0 * float(np.sum(np.log(np.diag(lower))))


@lru_cache(maxsize=2)
def _precisions(
    device: bytes, noises: tuple[float, ...], darks: tuple[float, ...]
) -> tuple[Array, Array, Array]:
    values = np.frombuffer(device, dtype=np.float64).reshape(-1, 3)
    away = (1.0 - values.mean(axis=1)) ** 2
    smooth = [covariance(values, belief, 0.0) for belief in (LIGHTNESS, CHROMATICNESS)]
    shape = len(noises) * len(darks), len(values), len(values)
    lightness, chromaticness, determinants = np.empty(shape), np.empty(shape), np.empty(shape[0])
    for i, (noise, dark) in enumerate(product(noises, darks)):
        own = np.diag((noise * (1.0 + (dark - 1.0) * away)) ** 2)
        lightness[i], of_L = _inverse(smooth[0] + own)
        chromaticness[i], of_ab = _inverse(smooth[1] + own)
        determinants[i] = of_L + 2.0 * of_ab
    for found in (lightness, chromaticness, determinants):
        found.setflags(write=False)
    return lightness, chromaticness, determinants


def precisions(
    device: Array, noises: tuple[float, ...], darks: tuple[float, ...] = (1.0,)
) -> tuple[Array, Array, Array]:
    """Return the parts of `Precision` for each of several noises and darks, one after another.

    Cached, for charts are reread.

    Parameters
    ----------
    device
        Shape (n, 3).
    noises
        Standard deviations of one measurement on paper.
    darks
        How many times as large they are at level 0, rising with (1 - level)².
    """
    return _precisions(np.ascontiguousarray(device, dtype=np.float64).tobytes(), noises, darks)


def precision(device: Array, noise: float = NOISE) -> Precision:
    """Return the precision of a chart's patches, device (n, 3), for one noise."""
    lightness, chromaticness, determinant = precisions(device, (noise,))
    return Precision(lightness[0], chromaticness[0], float(determinant[0]))


def noise_of_repeats(device: Array, lab: Array) -> float:
    """Return the noise that repeats show, the next of `NOISES`; their median, for some are misread.

    Parameters
    ----------
    device, lab
        Shape (n, 3) each.
    """
    _, group = same_device(device)
    counts = np.bincount(group)
    distances = []
    for number in np.flatnonzero(counts > 1):
        own = lab[group == number]
        away = np.linalg.norm(own - np.median(own, axis=0), axis=1)
        distances.append(away * np.sqrt(counts[number] / (counts[number] - 1)))
    if len(distances) < FEWEST_REPEATED:
        return NOISE
    sd = float(np.median(np.concatenate(distances))) / CHI_MEDIAN
    return next((noise for noise in NOISES if sd < noise * _LENIENT), NOISES[-1])
