"""How values near their final state, whatever the law: kinetics, weighed by what was read.

Every value s at time t is final_s + Σ_k amplitude_ks · left_k(t), where left_k falls from 1 at the
first time to 0. The laws are those that drying is known by: exponentials (a solvent evaporates; one
or two at once), stretched exponentials (many at once), and powers of time, of which t^-1/2 is
diffusion into a thick sheet (Crank 1975, The mathematics of diffusion, 4.3; memory). For a law with
its constants all else is linear and Gaussian, so that how likely the values are under it is known
in closed form (Rasmussen and Williams 2006, 2.7); the laws are averaged by that (Hoeting et al.
1999, Bayesian model averaging: a tutorial; memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike, Indices

SIZES, LEAST_OF_TWO = (0.03, 10.0), 0.3
"""What a change, per axis, may be like before the readings: the least and the largest standard
deviation, and the least where there are two changes at once (of which neither is next to nothing:
that would be one change alone). Between them, each factor is as likely."""

Limits = tuple[float, float]
"""The shortest and the longest time constant, hours."""

_APART = np.log(2.0)  # Two time constants are told apart if they differ by this factor at least.
_FIRST = {1: 24, 2: 14}  # Cells an axis of constants begins with,
_ROUNDS = 5  # halved so often, at most,
_CREDIBLE = 10.0  # where the log likelihood is within this of the best,
_ENOUGH = 800  # until there are so many of those. None is left out: the tails are what may come.
# No print dries by one of these laws exactly: what speaks for one against another counts by this
# power (Miller and Dunson 2019, Robust Bayesian inference via coarsening; memory).
_BELIEF = 0.5


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
    """

    name: str
    terms: int
    left: Callable[[Array, float, Array], Array]
    bounds: Callable[[Limits], list[tuple[float, float]]]


def sizes(law: Kinetics, curves: int) -> Array:
    """Return the sizes that a law's changes may be of, shape (Z, terms).

    The more curves a change is made of, the narrower is what they say of its size: 1 / sqrt(2 C) of
    it. Steps wider than twice that would draw a change to the nearest one, and with it the law to
    one that leaves so much.
    """
    least, largest = np.log((SIZES[0] if law.terms == 1 else LEAST_OF_TWO, SIZES[1]))
    count = int(np.ceil((largest - least) * np.sqrt(curves / 2.0))) + 1
    each = np.exp(np.linspace(least, largest, count))
    return np.stack(np.meshgrid(*([each] * law.terms), indexing="ij"), -1).reshape(-1, law.terms)


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


def _scale(*others: Limits) -> Callable[[Limits], list[tuple[float, float]]]:
    """A time constant by its logarithm, and what else there is."""
    return lambda limits: [(np.log(limits[0]), np.log(limits[1])), *others]


def _quick_and_slow(limits: Limits) -> list[tuple[float, float]]:
    """Two of them, the second in the slower half: hours to days, beside minutes."""
    low, high = np.log(limits)
    return [(low, high), ((low + high) / 2, high)]


ONE, TWO = "one exponential", "two exponentials"

# The exponents that are thought possible: common practice, no source.
KINETICS = (
    Kinetics(ONE, 1, _exponential, _scale()),
    Kinetics(TWO, 2, _exponential, _quick_and_slow),
    Kinetics("a stretched exponential", 1, _stretched, _scale((0.3, 1.0))),
    Kinetics("a power of time", 1, _power, _scale((np.log(0.35), np.log(2.0)))),
    Kinetics(
        "an exponential and diffusion", 2, _with_diffusion, _scale((np.log(0.02), np.log(2.0)))
    ),
)
"""The laws, each as likely before the readings."""


@dataclass(frozen=True, eq=False)
class Credible:
    """Draws of what is credible: a law, its constants and all that is linear in it.

    Attributes
    ----------
    first
        Hours of the first reading.
    laws, probabilities
        The L laws, and how probable each is.
    law
        Shape (D,): which of them each draw is of.
    constants
        Shape (D, 2): a law's constants; NaN where it has one alone.
    amplitudes
        Shape (D, 2, S): at the first reading; 0 where a law has one change alone.
    final
        Shape (D, S).
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
    log_evidence: float

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

    def time_constants(self, law: int) -> Array:
        """Return the time constants of a law of exponentials, shape (draws of it, terms)."""
        own = self.constants[self.law == law, : self.laws[law].terms]
        return np.sort(np.exp(own), axis=1)


class Problem:
    """Values at several times, with final states integrated out.

    Parameters
    ----------
    hours, values
        Shapes (T,), two different ones at least, and (T, S).
    basis
        Shape (S, C): curves over the values that a change is made of.
    sd
        Standard deviation of one value.
    limits
        Of time constants.
    """

    def __init__(
        self, hours: Array, values: Array, basis: Array, sd: float, limits: Limits
    ) -> None:
        self.hours, self.values, self.sd, self.limits = hours, values, sd, limits
        self.orthogonal = np.linalg.qr(basis)[0]
        self.common = (values - values.mean(axis=0)) @ self.orthogonal
        # A change has its size as the root mean square over the values, however few curves.
        self.scale = values.shape[1] / self.orthogonal.shape[1]

    def with_basis(self, basis: Array) -> Problem:
        """Return the same with other curves."""
        return Problem(self.hours, self.values, basis, self.sd, self.limits)

    def _linear(self, law: Kinetics, constants: Array) -> tuple[Array, Array, Array]:
        """Mean of what is left (M, K), its centred squares (M, K, K) and pulls (M, K, C)."""
        left = law.left(self.hours, float(self.hours[0]), constants)
        mean = left.mean(axis=1)
        centred = left - mean[:, np.newaxis]
        squares = np.einsum("mtk,mtl->mkl", centred, centred) / self.sd**2
        return mean, squares, np.einsum("mtk,tc->mkc", centred, self.common) / self.sd**2

    def _sizes(self, law: Kinetics) -> Array:
        """Variances of the amplitudes before the readings, shape (Z, K)."""
        return np.asarray(sizes(law, self.common.shape[1]) ** 2 * self.scale)

    def log_evidence(self, law: Kinetics, constants: Array) -> Array:
        """Return the log likelihood of the values for each size, less that of no change; (M, Z)."""
        _, squares, pull = self._linear(law, constants)
        prior = self._sizes(law)
        first = squares[:, :1, 0] + 1.0 / prior[:, 0]
        pulled = np.einsum("mkc,mlc->mkl", pull, pull)
        if law.terms == 1:
            precise, explained = first, pulled[:, :1, 0] / first
        else:
            # Two by two by hand: very many are inverted.
            second = squares[:, 1:, 1] + 1.0 / prior[:, 1]
            both = squares[:, :1, 1]
            precise = first * second - both**2
            explained = second * pulled[:, :1, 0] + first * pulled[:, 1:, 1]
            explained = (explained - 2 * both * pulled[:, :1, 1]) / precise
        occam = np.log(precise) + np.log(prior).sum(axis=1)
        return np.asarray((explained - occam * self.common.shape[1]) / 2)

    def weigh(self, law: Kinetics) -> tuple[Array, Array, Array]:
        """Return cells of constants (M, P), their widths (P,), and the log of each one's share in
        the law's evidence, size by size (M, Z)."""
        low, high = np.array(law.bounds(self.limits)).T
        counts = _FIRST[len(low)]
        width = (high - low) / counts
        axes = [low[k] + width[k] * (np.arange(counts) + 0.5) for k in range(len(low))]
        cells = _apart(law, np.stack(np.meshgrid(*axes, indexing="ij"), -1).reshape(-1, len(low)))
        quarters = np.stack(np.meshgrid(*([[-0.25, 0.25]] * len(low)), indexing="ij"), -1)
        logs = self.log_evidence(law, cells)
        share = len(cells) * logs.shape[1]
        for still in range(_ROUNDS - 1, -1, -1):
            best = logs.max(axis=1)
            below = best.max() - best
            if np.sum(below < _CREDIBLE) >= _ENOUGH:
                break
            # Within a wide cell the likelihood varies more than between narrow ones.
            parents = cells[below < _CREDIBLE * 2.0**still]
            children = parents[:, np.newaxis] + quarters.reshape(-1, len(low)) * width
            cells, width = _apart(law, children.reshape(-1, len(low))), width / 2
            logs, share = self.log_evidence(law, cells), share * 2 ** len(low)
        return cells, width, logs - np.log(share)

    def draw(self, laws: Sequence[Kinetics], count: int, seed: int) -> Credible:
        """Draw what is credible."""
        random = np.random.default_rng(seed)
        weighed = [self.weigh(law) for law in laws]
        top = max(float(logs.max()) for *_, logs in weighed)
        shares = [np.exp(logs - top) for *_, logs in weighed]
        evidence = np.array([share.sum() for share in shares]) ** _BELIEF
        probabilities = evidence / evidence.sum()
        series = self.values.shape[1]
        law_of = np.sort(random.choice(len(laws), size=count, p=probabilities))
        constants = np.full((count, 2), np.nan)
        amplitudes = np.zeros((count, 2, series))
        final = self.values.mean(axis=0) + random.normal(
            0.0, self.sd / np.sqrt(len(self.hours)), (count, series)
        )
        for index, (law, (cells, width, _), share) in enumerate(
            zip(laws, weighed, shares, strict=True)
        ):
            rows = np.flatnonzero(law_of == index)
            if not rows.size:
                continue
            flat = random.choice(share.size, size=rows.size, p=share.ravel() / share.sum())
            cell, size = np.divmod(flat, share.shape[1])
            own = cells[cell] + random.uniform(-0.5, 0.5, (rows.size, len(width))) * width
            mean, squares, pull = self._linear(law, own)
            prior = self._sizes(law)[size]
            covariance = np.linalg.inv(squares + np.eye(law.terms) / prior[:, np.newaxis])
            root = np.linalg.cholesky(covariance)
            drawn = covariance @ pull + root @ random.normal(size=pull.shape)
            constants[rows, : own.shape[1]] = own
            amplitudes[rows, : law.terms] = drawn @ self.orthogonal.T
            final[rows] -= np.einsum("dk,dks->ds", mean, amplitudes[rows, : law.terms])
        together = float(np.logaddexp.reduce([_total(logs) for *_, logs in weighed]))
        return Credible(
            float(self.hours[0]),
            tuple(laws),
            probabilities,
            law_of,
            constants,
            amplitudes,
            final,
            together - float(np.log(len(laws))),
        )

    def best(self, laws: Sequence[Kinetics]) -> tuple[float, Array, Kinetics]:
        """Return the log evidence of all laws together, the residuals (T, S) about the likeliest,
        and that law; residuals of the mean where no change is likelier."""
        found = [(law, *self.weigh(law)) for law in laws]
        total = float(
            np.logaddexp.reduce([np.logaddexp.reduce(one[3], axis=None) for one in found])
        )
        law, cells, _, logs = max(found, key=lambda one: float(one[3].max()))
        row = int(np.argmax(logs.max(axis=1)))
        left = law.left(self.hours, float(self.hours[0]), cells[row : row + 1])[0]
        centred = left - left.mean(axis=0)
        fitted = centred @ np.linalg.lstsq(centred, self.common, rcond=None)[0]
        residual = self.values - self.values.mean(axis=0) - fitted @ self.orthogonal.T
        return total, residual, law


def _total(logs: Array) -> float:
    return float(np.logaddexp.reduce(logs, axis=None))


def _apart(law: Kinetics, cells: Array) -> Array:
    """Keep two time constants in their order, and apart."""
    return cells[cells[:, 1] - cells[:, 0] >= _APART] if law.name == TWO else cells
