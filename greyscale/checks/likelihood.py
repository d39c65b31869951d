"""How likely readings are: what is believed of any printer, and how well a mistake explains them.

No printer is known. What is believed of all of them: L* rises with level, roughly from 10 to 95,
by a curve that may bend and kink; a* and b* drift by some units; a nudged channel moves CIELAB in
proportion, by an amount that changes slowly with tone. Written as a Gaussian process over device
values, this gives the likelihood of any assignment of measurements to patches in closed form
(Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, chapter 2).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import product
from math import log, sqrt

import numpy as np

from greyscale.checks.case import Case, Strip
from greyscale.checks.finding import Finding
from greyscale.colorimetry.arrays import (
    Array,
    ArrayLike,
    Indices,
    Mask,
    matern_32,
    matern_52,
    medians,
)
from greyscale.readings.reading import same_device

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
        Of the departure from it, over distances in level of `BEND_LENGTH`.
    kink
        Of small departures over distances of `KINK_LENGTH`.
    nudge
        Of the answer to one channel's departure from the mean of the three, per unit.
    second_order
        Of the same, per unit squared.
    unlike
        How much of the answer to a nudge, of its variance, is each colour's own.
    extreme
        Of what goes by the least and by the largest channel, over distances of `EXTREME_LENGTH`:
        black ink is often laid by the least of the inks.
    """

    offset: float
    slope: float
    bend: float
    kink: float
    nudge: float
    second_order: float
    unlike: float = 0.3
    extreme: float = 0.0

    @property
    def variances(self) -> Array:
        """Of each of its parts, in the order of `_kernels`; shape (8,)."""
        line, tones = (self.offset, self.slope), (self.bend, self.kink)
        nudged = (self.nudge, self.nudge * sqrt(self.unlike), self.second_order)
        return np.square((*line, *tones, *nudged, self.extreme))

    def bent(self, times: float) -> Belief:
        """The same of a printer whose tones bend so many times as much."""
        return replace(self, bend=times * self.bend, kink=times * self.kink)


LIGHTNESS = Belief(offset=15, slope=30, bend=12, kink=0.3, nudge=60, second_order=200)
CHROMATICNESS = Belief(offset=4, slope=4, bend=5, kink=0.2, nudge=60, second_order=200)

BEND_LENGTH, KINK_LENGTH, NUDGE_LENGTH, COLOUR_LENGTH = 0.25, 0.1, 0.4, 0.2
EXTREME_LENGTH = 0.15
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
    total = np.tensordot(belief.variances, _kernels(device.tobytes()), 1)
    total[np.diag_indices_from(total)] += noise**2
    return np.asarray(total)


@lru_cache(maxsize=1)
def _kernels(values: bytes) -> Array:
    """What beliefs of patches add up, each times its part of `Belief.variances`; (8, n, n).

    Kept whole: the order is judged of 500 patches at the most (`search.MOST_TOGETHER`).
    """
    device = np.frombuffer(values).reshape(-1, 3)
    level = device.mean(axis=1)
    nudge, centred = device - level[:, None], level - 0.5
    squared = np.sum(device**2, axis=1)
    colour_apart = np.sqrt(np.maximum(squared[:, None] + squared - 2.0 * device @ device.T, 0.0))
    apart, of_least, of_largest = (
        np.abs(own[:, None] - own) for own in (level, device.min(axis=1), device.max(axis=1))
    )
    alike = nudge @ nudge.T
    extremes = (matern_32(np.sqrt(3.0) / EXTREME_LENGTH * own) for own in (of_least, of_largest))
    return np.stack(
        [
            np.ones_like(apart),
            np.outer(centred, centred),
            matern_32(np.sqrt(3.0) / BEND_LENGTH * apart),
            np.exp(-apart / KINK_LENGTH),
            alike * matern_52(np.sqrt(5.0) / NUDGE_LENGTH * apart),
            alike * matern_52(np.sqrt(5.0) / COLOUR_LENGTH * colour_apart),
            alike**2,
            sum(extremes),
        ]
    )


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
    """The inverse of a symmetric matrix, and the logarithm of its determinant."""
    lower = np.asarray(np.linalg.cholesky(matrix), dtype=np.float64)
    root = _inverse_of_lower(lower)
    return root.T @ root, 2.0 * float(np.sum(np.log(np.diag(lower))))


def _inverse_of_lower(lower: Array) -> Array:
    """The inverse of a lower triangle, by halves: NumPy's own takes thrice as long, as of any."""
    half = len(lower) // 2
    if half < 16:
        return np.asarray(np.linalg.inv(lower), dtype=np.float64)
    inverse = np.zeros_like(lower)
    first, last = slice(half), slice(half, None)
    for part in (first, last):
        inverse[part, part] = _inverse_of_lower(lower[part, part])
    inverse[last, first] = -inverse[last, last] @ (lower[last, first] @ inverse[first, first])
    return inverse


@lru_cache(maxsize=4)
def _precisions(
    device: bytes,
    noises: tuple[float, ...],
    darks: tuple[float, ...],
    beliefs: tuple[tuple[Belief, Belief], ...],
) -> tuple[Array, Array, Array]:
    values = np.frombuffer(device, dtype=np.float64).reshape(-1, 3)
    away = (1.0 - values.mean(axis=1)) ** 2
    shape = len(beliefs) * len(noises) * len(darks), len(values), len(values)
    lightness, chromaticness, determinants = np.empty(shape), np.empty(shape), np.empty(shape[0])
    smooth = [[covariance(values, one, 0.0) for one in both] for both in beliefs]
    for i, (both, noise, dark) in enumerate(product(smooth, noises, darks)):
        own = np.diag((noise * (1.0 + (dark - 1.0) * away)) ** 2)
        lightness[i], of_L = _inverse(both[0] + own)
        chromaticness[i], of_ab = _inverse(both[1] + own)
        determinants[i] = of_L + 2.0 * of_ab
    for found in (lightness, chromaticness, determinants):
        found.setflags(write=False)
    return lightness, chromaticness, determinants


def precisions(
    device: Array,
    noises: tuple[float, ...],
    darks: tuple[float, ...] = (1.0,),
    beliefs: tuple[tuple[Belief, Belief], ...] = ((LIGHTNESS, CHROMATICNESS),),
) -> tuple[Array, Array, Array]:
    """Return the parts of `Precision` for each of several beliefs, noises and darks, in turn.

    Cached, for charts are reread.

    Parameters
    ----------
    device
        Shape (n, 3).
    noises
        Standard deviations of one measurement on paper.
    darks
        How many times as large they are at level 0, rising with (1 - level)².
    beliefs
        Of L*, and of a* and b*.
    """
    values = np.ascontiguousarray(device, dtype=np.float64)
    return _precisions(values.tobytes(), noises, darks, beliefs)


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
        away = np.linalg.norm(own - medians(own), axis=1)
        distances.append(away * np.sqrt(counts[number] / (counts[number] - 1)))
    if len(distances) < FEWEST_REPEATED:
        return NOISE
    sd = float(medians(np.concatenate(distances))) / CHI_MEDIAN
    return next((noise for noise in NOISES if sd < noise * _LENIENT), NOISES[-1])


_ANYWHERE = -np.log(100.0 * 30.0 * 30.0)  # A value that is no patch: uniform over greys,
_PAPER_SD = 0.7  # or, as likely as that, bare paper.

SUSPICIOUS = 2.5
"""A strip whose misfit per value is more is looked at; clean ones stay below 1."""


def set_aside(rows: Indices) -> Indices:
    """Mark rows as measured in their slots, but not believed; applied again, it takes that back.

    Examples
    --------
    >>> set_aside(np.array([0, 7, -1])).tolist()
    [-2, -9, -1]
    """
    return np.where(rows == -1, -1, -2 - rows)


@dataclass(frozen=True, eq=False)
class Assignment:
    """Which row's measurement belongs in which slot.

    Attributes
    ----------
    case
        The reading over its chart.
    rows
        Shape (n,): row of each slot, -1 where none was measured; below that a row that is
        set aside (see `set_aside`).
    whole
        Precision of all slots, with the effects that are believed in; see `Precision`.
    """

    case: Case
    rows: Indices
    whole: Precision

    @classmethod
    def as_read(cls, case: Case) -> Assignment:
        """Return the assignment that the reading itself makes, no effect believed in."""
        measured = case.rows >= 0
        device, rows = case.device[measured], case.rows[measured]
        noise = noise_of_repeats(device, case.reading.lab[rows])
        return cls(case, case.rows, precision(case.device, noise))

    def with_rows(self, slots: Indices | list[int], rows: ArrayLike) -> Indices:
        """Return the rows of all slots, with others in some of them."""
        changed = self.rows.copy()
        changed[slots] = rows
        return changed

    @cached_property
    def evidence(self) -> float:
        """Log likelihood of all measurements under this assignment."""
        return float(log_evidence(self.case, self.whole, self.rows[np.newaxis])[0])

    @cached_property
    def active(self) -> Indices:
        """Slots that have a measurement."""
        return np.flatnonzero(self.rows >= 0)

    @cached_property
    def precision(self) -> Precision:
        """Precision of the active slots alone."""
        return _restricted(self.whole, self.rows >= 0)

    @cached_property
    def lab(self) -> Array:
        """Measured CIELAB of the active slots."""
        return self.case.reading.lab[self.rows[self.active]]

    @cached_property
    def departure(self) -> Array:
        """Measured CIELAB less what is expected; of the active slots, (m, 3)."""
        return self.lab - expected_lab(self.case.device[self.active])

    @cached_property
    def weighted(self) -> Array:
        """Precision times the departure from what is expected; of the active slots, (m, 3)."""
        channels = enumerate(self.precision.channels)
        return np.stack([p @ self.departure[:, i] for i, p in channels], 1)

    @cached_property
    def misfit(self) -> float:
        """Squared departure of all active slots together, over its variance."""
        return float(np.sum(self.departure * self.weighted))

    @cached_property
    def scale(self) -> float:
        """Estimated ratio of real to believed variance of what does not fit."""
        freedom = _prior_freedom(self.case)
        return (freedom + self.misfit) / (freedom + self.lab.size)

    @cached_property
    def left_out(self) -> tuple[Array, Array]:
        """What each active slot should measure, by all the others: mean and sd, (m, 3) each."""
        variance = np.stack([1.0 / np.diag(p) for p in self.precision.channels], axis=1)
        mean = self.lab - self.weighted * variance
        return mean, np.sqrt(variance * max(self.scale, 0.5))

    def predicted(self, slots: Indices) -> tuple[Array, Array]:
        """Return what slots without a believed measurement should measure: mean and sd, (k, 3)."""
        case = self.case
        departure = np.zeros((len(case), 3))
        departure[self.active] = self.departure
        lost = np.flatnonzero(self.rows < 0)
        mean, sd = expected_lab(case.device), np.zeros((len(case), 3))
        for channel, matrix in enumerate(self.whole.channels):
            covariance = np.linalg.inv(matrix[np.ix_(lost, lost)])
            mean[lost, channel] -= covariance @ (matrix[lost] @ departure[:, channel])
            sd[lost, channel] = np.sqrt(np.diag(covariance) * max(self.scale, 0.5))
        return mean[slots], sd[slots]

    @cached_property
    def patch_misfit(self) -> Array:
        """Squared departure of each active slot from `left_out`, over its variance, (m,)."""
        mean, sd = self.left_out
        return np.asarray(np.sum(((self.lab - mean) / sd) ** 2, axis=1))

    @cached_property
    def strip_misfits(self) -> Array:
        """Misfit of each whole strip to all the others, per value; shape (number of strips,)."""
        return np.array([self._strip_misfit(strip) for strip in self.case.strips])

    def _strip_misfit(self, strip: Strip) -> float:
        if len(self.case.strips) == 1:
            return self.misfit / max(self.lab.size, 1)
        inside = np.flatnonzero(np.isin(self.active, strip.slots))
        if not inside.size:
            return 0.0
        total = 0.0
        for channel, matrix in enumerate(self.precision.channels):
            own = self.weighted[inside, channel]
            total += own @ np.linalg.solve(matrix[np.ix_(inside, inside)], own)
        return float(total / (3 * inside.size))

    @cached_property
    def suspicious(self) -> tuple[Strip, ...]:
        """Strips that do not fit the others, the worst first."""
        misfits = zip(self.strip_misfits.tolist(), self.case.strips, strict=True)
        found = [pair for pair in misfits if pair[0] > SUSPICIOUS]
        found.sort(key=lambda pair: -pair[0] * len(pair[1]))
        return tuple(strip for _, strip in found)


def _restricted(whole: Precision, kept: Mask) -> Precision:
    """Return the precision of some values once the others are taken as unknown."""
    if kept.all():
        return whole
    lost = np.flatnonzero(~kept)
    rest = np.flatnonzero(kept)
    reduced = []
    determinant = whole.log_determinant
    for matrix, count in ((whole.lightness, 1), (whole.chromaticness, 2)):
        inner = matrix[np.ix_(lost, lost)]
        cross = matrix[np.ix_(rest, lost)]
        reduced.append(matrix[np.ix_(rest, rest)] - cross @ np.linalg.solve(inner, cross.T))
        determinant += count * float(np.linalg.slogdet(inner)[1])
    return Precision(reduced[0], reduced[1], determinant)


def _prior_freedom(case: Case) -> float:
    # How firmly the believed noise is held to: as if one value in three had shown it before.
    return float(len(case))


def log_evidence(case: Case, whole: Precision, rows: Indices) -> Array:
    """Return the log likelihood of the measurements under many assignments.

    The common scale of all departures is unknown: a multivariate t distribution. Slots without
    a measurement are integrated out; measurements without a slot may be anything, paper above all.

    Parameters
    ----------
    whole
        Precision of all slots.
    rows
        Shape (h, n): one assignment per line, negative where no measurement is believed.

    Returns
    -------
    Array of shape (h,).
    """
    result = np.empty(len(rows))
    lost_count = np.sum(rows < 0, axis=1)
    for count in np.unique(lost_count):
        chosen = np.flatnonzero(lost_count == count)
        for part in np.array_split(chosen, max(1, chosen.size * len(case) // 400_000)):
            result[part] = _same_count(case, whole, rows[part], int(count))
    return result + _of_no_patch(case, rows)


def _same_count(case: Case, whole: Precision, rows: Indices, lost_count: int) -> Array:
    """Return the log likelihood of assigned values; `lost_count` slots per line have none."""
    missing = rows < 0
    departure = case.reading.lab[np.maximum(rows, 0)] - expected_lab(case.device)
    departure[missing] = 0.0
    lost = np.nonzero(missing)[1].reshape(len(rows), lost_count)
    misfit = np.zeros(len(rows))
    determinant = np.full(len(rows), whole.log_determinant)
    line = np.arange(len(rows))[:, None]
    for channel, matrix in enumerate(whole.channels):
        own = np.ascontiguousarray(departure[:, :, channel])
        weighted = own @ matrix
        misfit += np.einsum("hn,hn->h", own, weighted)
        if lost_count:
            inner = matrix[lost[:, :, None], lost[:, None, :]]
            pull = weighted[line, lost]
            misfit -= np.einsum("hm,hm->h", pull, _solve(inner, pull))
            determinant += np.linalg.slogdet(inner)[1]
    return _log_t(misfit, determinant, 3 * (len(case) - lost_count), _prior_freedom(case))


def _solve(matrices: Array, vectors: Array) -> Array:
    return np.asarray(np.linalg.solve(matrices, vectors[:, :, np.newaxis])[:, :, 0])


def _log_t(misfit: Array, log_determinant: Array, size: int, freedom: float) -> Array:
    """Return the log density of a multivariate t distribution."""
    from math import lgamma, log, pi

    constant = lgamma((freedom + size) / 2) - lgamma(freedom / 2) - size / 2 * log(freedom * pi)
    shape = (freedom + size) / 2 * np.log1p(misfit / freedom)
    return np.asarray(constant - log_determinant / 2 - shape)


def bare_paper(case: Case) -> Array:
    """Return the CIELAB of bare paper: the lightest measurement, shape (3,)."""
    return np.asarray(case.reading.lab[np.argmax(case.reading.lab[:, 0])])


def _of_no_patch(case: Case, rows: Indices) -> Array:
    """Return the log likelihood of the measurements that an assignment leaves without a slot."""
    lab = case.reading.lab
    distance = np.sum(((lab - bare_paper(case)) / _PAPER_SD) ** 2, axis=1)
    paper = -0.5 * distance - 3 * np.log(_PAPER_SD * np.sqrt(2 * np.pi))
    density = np.logaddexp(paper, _ANYWHERE) - np.log(2.0)
    used = np.zeros((len(rows), len(lab) + 1), dtype=bool)
    np.put_along_axis(used, np.where(rows < 0, len(lab), rows), True, axis=1)
    return np.asarray(np.where(used[:, :-1], 0.0, density).sum(axis=1))


# One possible explanation of measurements that do not fit their patches.


@dataclass(frozen=True, eq=False)
class Proposal:
    """One possible explanation: another assignment, how likely beforehand, and how to say it.

    Attributes
    ----------
    rows
        Shape (n,): the row of each slot, -1 where nothing was measured.
    log_prior
        Logarithm of how likely such a mistake is beforehand.
    group
        Proposals of one group are variants of one mistake: they differ in detail only.
    describe
        Makes the findings; how probable they are is filled in.
    whole
        Precision of all slots where the proposal is an effect on the measurements, else None.
    """

    rows: Indices
    log_prior: float
    group: str
    describe: Callable[[], Sequence[Finding]]
    whole: Precision | None = None


def log_prior(share: float, choices: int) -> float:
    """Return the prior of one of several equally likely mistakes: a share of readings has one.

    Examples
    --------
    >>> round(log_prior(0.01, 10), 3)
    -6.908
    """
    return log(share / max(choices, 1))
