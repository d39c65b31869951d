"""How values near their final state, whatever the law: kinetics, weighed by what was read.

Every value s at time t is final_s + Σ_k amplitude_ks · left_k(t), where left_k falls from 1 at the
first time to 0. The laws are those that drying is known by: exponentials (a solvent evaporates; one
or two at once), stretched exponentials (many at once), and powers of time, of which t^-1/2 is
diffusion into a thick sheet (Crank 1975, The mathematics of diffusion, 4.3; memory). For a law with
its constants all else is linear and Gaussian, so that how likely the values are under it is known
in closed form (Rasmussen and Williams 2006, 2.7); by that the laws are weighed against each other
(Hoeting et al. 1999, Bayesian model averaging: a tutorial; memory). What may still come does not
rest on that weighing: `drying` draws all laws alike and spreads them by their likelihood.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from math import gamma
from typing import NamedTuple

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike, Indices

SIZES, SHARES = (0.03, 4.0), (np.arange(8) + 0.5) / 8
"""What a change may be like before the readings, as standard deviation where a tone changes most:
the least and the largest, each factor between them as likely; and the shares of it that a second
change beside it may be like. Which way that one goes is as likely back as onward: a slow change may
undo what a quick one did."""

Limits = tuple[float, float]
"""The shortest and the longest time constant, hours."""

_APART = np.log(2.0)  # Two time constants are told apart if they differ by this factor at least.
_FIRST = {1: 24, 2: 14}  # Cells an axis of constants begins with,
_ROUNDS = 5  # halved so often, at most,
_CREDIBLE = 10.0  # where the log likelihood is within this of the best,
_ENOUGH = 400  # until there are so many of those. None is left out: the tails are what may come.
# No print dries by one of these laws exactly: what speaks for one against another counts by this
# power (Miller and Dunson 2019, Robust Bayesian inference via coarsening; memory).
_BELIEF = 0.5
_STEP = 0.4  # Sizes are tried in steps of this, in their logarithm.


@dataclass(frozen=True)
class Kinetics:
    """A law by which values near their final state.

    Attributes
    ----------
    name
        As it is printed.
    terms
        How many changes there are at once.
    left
        Of hours (T,), the first hour, constants (M, P): what is left, shape (M, T, terms).
    bounds
        Of the limits: least and largest of each constant, shape (P, 2).
    lasts
        Of constants (M, P): hours that the slowest change lasts, as a time constant tells; (M,).
    """

    name: str
    terms: int
    left: Callable[[Array, float, Array], Array]
    bounds: Callable[[Limits], list[tuple[float, float]]]
    lasts: Callable[[Array], Array]


def sizes(law: Kinetics, ways: int = 1) -> Array:
    """Return the sizes that a law's changes may be of, and which of so many ways a second one
    goes, shape (Z, terms + 1)."""

    def between(least: float, largest: float) -> Array:
        return np.geomspace(least, largest, int(np.ceil(np.log(largest / least) / _STEP)) + 1)

    first = between(*SIZES)[:, np.newaxis]
    if law.terms == 1:
        return np.column_stack([first, np.zeros(len(first))])
    whole, share, way = np.meshgrid(first, SHARES, np.arange(ways), indexing="ij")
    return np.stack([whole, whole * share, way], axis=-1).reshape(-1, 3)


def _exponential(hours: Array, first: float, constants: Array) -> Array:
    return np.exp(-(hours[:, np.newaxis] - first) / np.exp(constants)[:, np.newaxis, :])


def _stretched(hours: Array, first: float, constants: Array) -> Array:
    scale, power = np.exp(constants[:, :1]), constants[:, 1:]
    gone = (hours / scale) ** power - (first / scale) ** power
    return np.asarray(np.exp(-gone)[..., np.newaxis])


def _power(hours: Array, first: float, constants: Array) -> Array:
    grown = 1.0 + (hours - first) / np.exp(constants[:, :1])
    return np.asarray((grown ** -np.exp(constants[:, 1:]))[..., np.newaxis])


def _with_diffusion(hours: Array, first: float, constants: Array) -> Array:
    slow = np.column_stack([constants[:, 1], np.full(len(constants), np.log(0.5))])
    fast = _exponential(hours, first, constants[:, :1])
    return np.concatenate([fast, _power(hours, first, slow)], axis=-1)


def _slowest(constants: Array) -> Array:
    return np.asarray(np.exp(constants.max(axis=1)))


def _mean_time(constants: Array) -> Array:
    """The mean of a stretched exponential."""
    mean = np.array([gamma(1.0 + 1.0 / power) for power in constants[:, 1]])
    return np.asarray(np.exp(constants[:, 0]) * mean)


def _to_one_eth(constants: Array) -> Array:
    """When a power of time leaves 1/e: its mean has no end."""
    return np.asarray(np.exp(constants[:, 0]) * np.expm1(np.exp(-constants[:, 1])))


def _diffusion_to_one_eth(constants: Array) -> Array:
    return np.asarray(np.exp(constants[:, 1]) * np.expm1(2.0))


def _scale(*others: Limits) -> Callable[[Limits], list[tuple[float, float]]]:
    """A time constant by its logarithm, and what else there is."""
    return lambda limits: [(np.log(limits[0]), np.log(limits[1])), *others]


def _quick_and_slow(limits: Limits) -> list[tuple[float, float]]:
    """Two of them, the second in the slower half: hours to days, beside minutes."""
    low, high = np.log(limits)
    return [(low, high), ((low + high) / 2, high)]


ONE, TWO = "one exponential", "two exponentials"

# The exponents that are thought possible, and the hours after which diffusion slows down: common
# practice, no source.
KINETICS = (
    Kinetics(ONE, 1, _exponential, _scale(), _slowest),
    Kinetics(TWO, 2, _exponential, _quick_and_slow, _slowest),
    Kinetics("a stretched exponential", 1, _stretched, _scale((0.3, 1.0)), _mean_time),
    Kinetics("a power of time", 1, _power, _scale((np.log(0.35), np.log(2.0))), _to_one_eth),
    Kinetics(
        "an exponential and diffusion",
        2,
        _with_diffusion,
        _scale((np.log(0.02), np.log(2.0))),
        _diffusion_to_one_eth,
    ),
)
"""The laws, each as likely before the readings."""


class Weighed(NamedTuple):
    """How likely a law makes values, in cells of its constants.

    Attributes
    ----------
    cells, width
        Shapes (M, P) and (P,).
    tried
        Sizes, as `sizes` gives them.
    logs
        Log likelihood, less that of no change; shape (M, Z).
    many
        Log of how many cells times sizes there would be, were all cells so narrow.
    """

    cells: Array
    width: Array
    tried: Array
    logs: Array
    many: float

    @property
    def log_evidence(self) -> float:
        """The log of the mean likelihood."""
        return float(np.logaddexp.reduce(self.logs, axis=None)) - self.many


@dataclass(frozen=True, eq=False)
class Credible:
    """Draws of what is credible: a law, its constants and all that is linear in it.

    Attributes
    ----------
    first
        Hours of the first reading.
    laws, probabilities
        The L laws, and how probable each is under the belief drawn with.
    law
        Shape (D,): which of them each draw is of.
    constants
        Shape (D, 2): a law's constants; NaN where it has one alone.
    amplitudes
        Shape (D, 2, S): at the first reading; 0 where a law has one change alone.
    final
        Shape (D, S).
    log_likelihood
        Shape (D,): of each draw's law, constants and size.
    rest, variance
        Shapes (D, S) and (D, S): what is left at the last reading as these expect it, and its
        variances in the problem's basis.
    log_evidence
        Of all laws together, each as likely before the readings, less that of no change.
    """

    first: float
    laws: tuple[Kinetics, ...]
    probabilities: Array
    law: Indices
    constants: Array
    amplitudes: Array
    final: Array
    log_likelihood: Array
    rest: Array
    variance: Array
    log_evidence: float

    def taken(self, rows: Indices) -> Credible:
        """Return some of the draws."""
        names = ("law", "constants", "amplitudes", "final", "log_likelihood", "rest", "variance")
        return replace(self, **{name: getattr(self, name)[rows] for name in names})

    def to_come(self, hours: ArrayLike) -> Array:
        """Return value minus final state at some times, shape (D, len(hours), S)."""
        times = np.asarray(hours, dtype=np.float64)
        rest = np.empty((len(self.law), times.size, self.final.shape[1]))
        for index, law in enumerate(self.laws):
            own = self.law == index
            if own.any():
                count = len(law.bounds((1.0, 2.0)))
                left = law.left(times, self.first, self.constants[own, :count])
                rest[own] = np.einsum("dtk,dks->dts", left, self.amplitudes[own, : law.terms])
        return rest

    def course(self, hours: Array) -> Array:
        """Return the median value at some times, shape (len(hours), S)."""
        # One by one: together they would fill the memory.
        return np.stack(
            [np.median(self.final + self.to_come([hour])[:, 0], axis=0) for hour in hours]
        )

    def share_left(self, hours: Array) -> Array:
        """Return how much is left of what there was at the first reading, shape (len(hours),)."""
        first = np.linalg.norm(self.amplitudes.sum(axis=1), axis=1)
        rest = np.linalg.norm(self.to_come(hours), axis=2)
        return np.asarray(np.median(rest / first[:, np.newaxis], axis=0))

    def time_constants(self, law: int) -> Array:
        """Return those of a law, shape (draws of it, terms); no terms but of exponentials."""
        terms = self.laws[law].terms if self.laws[law].name in (ONE, TWO) else 0
        own = self.constants[self.law == law, :terms]
        return np.sort(np.exp(own), axis=1)


class Problem:
    """Values at several times, with final states integrated out.

    Parameters
    ----------
    hours, values
        Shapes (T,), two different ones at least, and (T, S).
    basis, spreads
        Shapes (S, S) and (W, S): values are basis @ x, where the noise of x is white with standard
        deviation 1, and a change of size z has variances z² · spread in x: the first spread; a
        second change beside it, any of them.
    limits
        Of time constants.
    """

    def __init__(
        self, hours: Array, values: Array, basis: Array, spreads: Array, limits: Limits
    ) -> None:
        self.hours, self.values, self.basis, self.limits = hours, values, basis, limits
        self.common = np.linalg.solve(basis, (values - values.mean(axis=0)).T).T
        # So many different spreads would not be told from few.
        logs = np.log(spreads)
        self.group = np.unique(np.round(4 * logs), axis=1, return_inverse=True)[1].ravel()
        self.spreads = np.exp(
            [np.bincount(self.group, row) / np.bincount(self.group) for row in logs]
        )
        self._weighed: dict[str, Weighed] = {}

    def slower(self, factor: float) -> Problem:
        """Return the same, but for time constants that may be longer by a factor."""
        other = copy(self)
        other.limits, other._weighed = (self.limits[0], factor * self.limits[1]), {}
        return other

    def _linear(self, law: Kinetics, constants: Array) -> tuple[Array, Array, Array]:
        """Mean of what is left (M, K), its centred squares (M, K, K) and pulls (M, K, S)."""
        left = law.left(self.hours, float(self.hours[0]), constants)
        mean = left.mean(axis=1)
        centred = left - mean[:, np.newaxis]
        squares = np.einsum("mtk,mtl->mkl", centred, centred)
        return mean, squares, np.einsum("mtk,ts->mks", centred, self.common)

    def log_evidence(self, law: Kinetics, constants: Array, tried: Array) -> Array:
        """Return the log likelihood of the values for each size, less that of no change; (M, Z)."""
        _, squares, pull = self._linear(law, constants)
        squares = squares[..., np.newaxis]
        variances = self._variances(tried)
        total = np.zeros((len(constants), len(tried)))
        for group in range(self.spreads.shape[1]):
            own = pull[:, :, self.group == group]
            pulled = np.einsum("mkc,mlc->mkl", own, own)[..., np.newaxis]
            prior = variances[..., group]
            occam = 1.0 + squares[:, 0, 0] * prior[0]
            explained = prior[0] * pulled[:, 0, 0]
            if law.terms == 2:
                # Two by two by hand: very many are inverted.
                whole = prior[0] * prior[1]
                seen = squares[:, 0, 0] * squares[:, 1, 1] - squares[:, 0, 1] ** 2
                occam += prior[1] * squares[:, 1, 1] + whole * seen
                explained += prior[1] * pulled[:, 1, 1]
                cross = 2 * squares[:, 0, 1] * pulled[:, 0, 1]
                both = squares[:, 1, 1] * pulled[:, 0, 0] + squares[:, 0, 0] * pulled[:, 1, 1]
                explained += whole * (both - cross)
            total += (explained / occam - own.shape[2] * np.log(occam)) / 2
        return total

    def _variances(self, tried: Array) -> Array:
        """Those of each change, by group, before the readings: shape (terms, Z, groups)."""
        first = np.broadcast_to(self.spreads[0], (len(tried), self.spreads.shape[1]))
        both = (first, self.spreads[tried[:, -1].astype(np.intp)])[: tried.shape[1] - 1]
        return np.stack(
            [size[:, None] ** 2 * own for size, own in zip(tried.T[:-1], both, strict=True)]
        )

    def weigh(self, law: Kinetics) -> Weighed:
        """Return how likely a law makes the values, wherever it makes them likely."""
        if law.name in self._weighed:
            return self._weighed[law.name]
        low, high = np.array(law.bounds(self.limits)).T
        counts = _FIRST[len(low)]
        width = (high - low) / counts
        axes = [low[k] + width[k] * (np.arange(counts) + 0.5) for k in range(len(low))]
        cells = np.stack(np.meshgrid(*axes, indexing="ij"), -1).reshape(-1, len(low))
        cells = _possible(law, cells, self.limits)
        quarters = np.stack(np.meshgrid(*([[-0.25, 0.25]] * len(low)), indexing="ij"), -1)
        tried = sizes(law, len(self.spreads))
        logs = self.log_evidence(law, cells, tried)
        share = len(cells) * logs.shape[1]
        for still in range(_ROUNDS - 1, -1, -1):
            best = logs.max(axis=1)
            below = best.max() - best
            if np.sum(below < _CREDIBLE) >= _ENOUGH:
                break
            tried = tried[logs.max() - logs.max(axis=0) < _CREDIBLE * 2.0**still]
            # Within a wide cell the likelihood varies more than between narrow ones.
            parents = cells[below < _CREDIBLE * 2.0**still]
            children = parents[:, np.newaxis] + quarters.reshape(-1, len(low)) * width
            cells = _possible(law, children.reshape(-1, len(low)), self.limits)
            width = width / 2
            logs, share = self.log_evidence(law, cells, tried), share * 2 ** len(low)
        self._weighed[law.name] = Weighed(cells, width, tried, logs, float(np.log(share)))
        return self._weighed[law.name]

    def draw(
        self,
        laws: Sequence[Kinetics],
        count: int,
        seed: int,
        belief: float = _BELIEF,
        power: float = 1.0,
    ) -> Credible:
        """Draw what is credible.

        Parameters
        ----------
        belief, power
            The powers by which a law's evidence counts, and within a law the likelihood. Less
            than 1 draws more widely.
        """
        random = np.random.default_rng(seed)
        weighed = [self.weigh(law) for law in laws]
        shares = [np.exp(power * (one.logs - one.logs.max())) for one in weighed]
        logs = np.array([one.log_evidence for one in weighed])
        evidence = np.exp(belief * (logs - logs.max()))
        probabilities = evidence / evidence.sum()
        series = self.values.shape[1]
        law_of = np.sort(random.choice(len(laws), size=count, p=probabilities))
        constants = np.full((count, 2), np.nan)
        amplitudes = np.zeros((count, 2, series))
        unsure = random.normal(0.0, 1 / np.sqrt(len(self.hours)), (count, series))
        final = self.values.mean(axis=0) + unsure @ self.basis.T
        likelihood, rest, variance = np.zeros(count), *np.zeros((2, count, series))
        for index, (law, found, share) in enumerate(zip(laws, weighed, shares, strict=True)):
            rows = np.flatnonzero(law_of == index)
            if not rows.size:
                continue
            flat = random.choice(share.size, size=rows.size, p=share.ravel() / share.sum())
            cell, size = np.divmod(flat, share.shape[1])
            within = random.uniform(-0.5, 0.5, (rows.size, len(found.width)))
            own = found.cells[cell] + within * found.width
            mean, squares, pull = self._linear(law, own)
            prior = np.moveaxis(self._variances(found.tried[size]), 0, -1)
            inverse = np.eye(law.terms) / prior[..., np.newaxis]
            covariance = np.linalg.inv(squares[:, np.newaxis] + inverse)
            root = np.linalg.cholesky(covariance)[:, self.group]
            expected = np.einsum("dskl,dls->dks", covariance[:, self.group], pull)
            drawn = expected + np.einsum("dskl,dls->dks", root, random.normal(size=pull.shape))
            left = law.left(self.hours[-1:], float(self.hours[0]), own)[:, 0]
            likelihood[rows] = found.logs[cell, size]
            rest[rows] = np.einsum("dk,dks->ds", left, expected) @ self.basis.T
            variance[rows] = np.einsum("dk,dgkl,dl->dg", left, covariance, left)[:, self.group]
            constants[rows, : own.shape[1]] = own
            amplitudes[rows, : law.terms] = drawn @ self.basis.T
            final[rows] -= np.einsum("dk,dks->ds", mean, amplitudes[rows, : law.terms])
        return Credible(
            float(self.hours[0]),
            tuple(laws),
            probabilities,
            law_of,
            constants,
            amplitudes,
            final,
            likelihood,
            rest,
            variance,
            float(np.logaddexp.reduce(logs) - np.log(len(laws))),
        )

    def best(self, laws: Sequence[Kinetics]) -> tuple[float, Array, Kinetics]:
        """Return the log evidence of all laws together, the residuals (T, S) about the likeliest,
        and that law."""
        total = float(np.logaddexp.reduce([self.weigh(law).log_evidence for law in laws]))
        law = max(laws, key=lambda law: float(self.weigh(law).logs.max()))
        found = self.weigh(law)
        row = int(np.argmax(found.logs.max(axis=1)))
        left = law.left(self.hours, float(self.hours[0]), found.cells[row : row + 1])[0]
        centred = left - left.mean(axis=0)
        values = self.values - self.values.mean(axis=0)
        return total, values - centred @ np.linalg.lstsq(centred, values, rcond=None)[0], law


def _possible(law: Kinetics, cells: Array, limits: Limits) -> Array:
    """Keep what lasts no longer than the limits; two time constants in their order, and apart."""
    cells = cells[law.lasts(cells) <= limits[1]]
    return cells[cells[:, 1] - cells[:, 0] >= _APART] if law.name == TWO else cells


# What was measured, as such a problem: how tones change together, and how noisy readings are.

_ALIKE = 0.5  # Tones this far apart in level change alike;
_ROUGH = (0.02, 0.1, 0.3, 1.0)  # each differs by one of these, of what the darkest changes by.
# Its a* and b* change by one of these, of what its L* does: common practice, no source. Held to be
# alike in size, they would hide a change in L*, and unchanged deny it.
_HUES = (1.0, 0.25)
_FASTEST = 0.2  # Time constants are sought from this share of the shortest gap,
_MINUTES = 0.1  # or from these hours if they are less,
_DAYS = 72.0  # to the span, or these hours if they are more.
FEWEST_TIMES = 3
"""Two times tell noise from change by the repeats alone."""

_FEWEST_FOR_TWO = 5  # So many show scatter about two changes at once.
LEAST_SD = 0.01
"""No reading is more exact than its rounding."""

_OWN_NOISE = 2.0  # Fitted residuals may fall short of the repeats' noise by this factor.
# What all tones of a reading share (calibration, placement): standard deviation, and how many
# independent numbers that is held to be worth; common practice, no source.
_SHARED, _SHARED_FREEDOM = 0.05, 6.0


def _limits(hours: Array) -> tuple[float, float]:
    """The shortest and the longest time constant, in hours, that drying is believed to have.

    Common practice, no source: ink sets within minutes, and solvents leave a print for days.
    """
    gap = float(np.diff(np.unique(hours)).min())
    span = float(hours[-1] - hours[0])
    return min(_FASTEST * gap, _MINUTES), max(span, _DAYS)


def posed(hours: Array, level: Array, lab: Array, sd: float) -> tuple[Problem, float]:
    """Pose what tones measured, with how changes vary over tone and the noise that serve it best.

    Parameters
    ----------
    hours, level, lab
        Shapes (T,), rising, (n,) and (T, n, 3).
    sd
        Repeatability: standard deviation of one measurement, per axis.

    Returns
    -------
    The problem, and the standard deviation of one value.
    """
    limits, values = _limits(hours), lab.reshape(len(hours), -1)
    different = np.unique(hours).size

    def with_noise(rough: float, hue: float, own: float, shared: float) -> Problem:
        return Problem(hours, values, *_basis(level, rough, hue, own, shared), limits)

    own, shared = max(sd, LEAST_SD), _SHARED
    if different >= FEWEST_TIMES:
        laws = [law for law in KINETICS if law.terms == 1 or different >= _FEWEST_FOR_TWO]
        _, residual, law = with_noise(_ROUGH[1], _HUES[0], own, shared).best(laws)
        own, shared = _noise(residual, law, sd)
    ways = [(rough, hue, own, shared) for rough in _ROUGH for hue in _HUES]
    way = max(ways, key=lambda way: with_noise(*way).best(KINETICS[:1])[0])
    return with_noise(*way), float(np.hypot(own, shared))


def _basis(
    level: Array, rough: float, hue: float, own: float, shared: float
) -> tuple[Array, Array]:
    """What `Problem` asks for: all tones change alike, the darkest most and paper least, but for
    smooth differences and a share of rough ones; at first in a* and b* by a share too."""
    ink = 1.0 - level
    alike = np.exp(-(np.subtract.outer(level, level) ** 2) / (2 * _ALIKE**2))
    change = np.outer(ink, ink) * alike + rough**2 * np.eye(level.size)
    root = np.linalg.cholesky(own**2 * np.eye(level.size) + shared**2)
    half = np.linalg.solve(root, change)
    spread, ways = np.linalg.eigh(np.linalg.solve(root, half.T))
    shares = np.array([[1.0, h**2, h**2] for h in sorted(_HUES, key=lambda h: h != hue)])
    return np.kron(root @ ways, np.eye(3)), np.kron(np.maximum(spread, 1e-9), shares)


def _noise(residual: Array, law: Kinetics, sd: float) -> tuple[float, float]:
    """Standard deviations of one value about the fit, and of what all tones of a reading share.

    Readings differ as a whole too (calibration, backing, placement): what all tones of a reading
    share does not average out over them.
    """
    count, size = residual.shape
    freedom = max(count - 1 - law.terms, 0)
    residual = residual.reshape(count, -1, 3)
    common = residual.mean(axis=1)
    own = max(sd, LEAST_SD)
    if freedom and size > 3:
        fitted = np.sum((residual - common[:, np.newaxis]) ** 2) / (freedom * (size - 3))
        own = max(float(np.sqrt(fitted)), sd / _OWN_NOISE, LEAST_SD)
    usual = 3 * own**2 / size + _SHARED**2
    together = float(np.sum(common**2)) if freedom else 0.0
    together = (together + _SHARED_FREEDOM * usual) / (3 * freedom + _SHARED_FREEDOM)
    return own, float(np.sqrt(max(together - 3 * own**2 / size, _SHARED**2 / 4)))
