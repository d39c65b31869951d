"""How values near their final state: exponentials that all of them have in common.

Every value s at time t is final_s + Σ_k amplitude_ks · exp(-t / τ_k); the time constants τ are
shared, the rest is not, or follows given curves over the values (smooth in tone, say). For given
time constants all else is linear (variable projection; Golub and Pereyra 1973), so that only the
time constants are searched, and what the data say about them is known everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np

from greyscale.colorimetry.arrays import Array

FASTEST, SLOWEST = 0.2, 5.0
"""Time constants are sought from this share of the shortest gap to this multiple of the span,
unless other limits are given."""

Limits = tuple[float, float]
"""The shortest and the longest time constant."""

_GRID = 48  # Time constants tried over that range, evenly in their logarithm.
_POINTS = {1: 60, 2: 20}  # Time constants tried, for each term, when credible ones are drawn,
_CLOSER = 3  # the grid closing in so many times
_CREDIBLE = 12.0  # on what is within this of the best log likelihood.
_NEAR_LIMIT = 0.8  # A time constant beyond this share of the longest one is held to be at it.
_APART = 2.0  # Two time constants are told apart if they differ by this factor at least.


@dataclass(frozen=True, eq=False)
class ExponentialFit:
    """A fit of exponentials with common time constants.

    Attributes
    ----------
    hours
        Shape (T,).
    values
        Shape (T, S), as measured.
    basis
        Shape (S, P): curves that amplitudes are combined of; the identity leaves them free.
    time_constants
        Shape (K,), rising; none for values that stay as they are.
    final
        Shape (S,): the values' final state; their mean for K = 0.
    coefficients
        Shape (K, P): amplitudes as shares of the curves.
    squares
        Sum of squared residuals.
    sd
        Standard deviation of one value: as given, else from the residuals.
    """

    hours: Array
    values: Array
    basis: Array
    time_constants: Array
    final: Array
    coefficients: Array
    squares: float
    sd: float

    @property
    def terms(self) -> int:
        """How many exponentials there are."""
        return len(self.time_constants)

    @property
    def parameters(self) -> int:
        """How many numbers were fitted."""
        return self.final.size + self.coefficients.size + self.time_constants.size

    @property
    def amplitudes(self) -> Array:
        """What each value had left to go at time 0, shape (K, S)."""
        return np.asarray(self.coefficients @ self.basis.T)

    @property
    def bic(self) -> float:
        """Bayesian information criterion (Schwarz 1978) for noise of unknown size."""
        count = self.values.size
        squares = max(self.squares, 1e-12 * count)
        return float(count * np.log(squares / count) + self.parameters * np.log(count))

    def at(self, hours: Array) -> Array:
        """Give the fitted values at some times, shape (len(hours), S)."""
        return np.asarray(self.final + decays(hours, self.time_constants) @ self.amplitudes)

    @cached_property
    def covariance(self) -> Array:
        """Covariance of time constants, then final states, then coefficients (K·P).

        From the curvature at the best fit: Gauss and Newton, as `scipy.optimize.curve_fit`.
        """
        return np.asarray(self.sd**2 * np.linalg.inv(self._curvature()))

    def _curvature(self) -> Array:
        count, series = self.values.shape
        decay = decays(self.hours, self.time_constants)
        slope = decay * self.hours[:, None] / self.time_constants**2
        columns = [(slope[:, k, None] * self.amplitudes[k]).reshape(-1) for k in range(self.terms)]
        columns += list(np.tile(np.eye(series), (count, 1)).T)
        for k in range(self.terms):
            columns += [(decay[:, k, None] * curve).reshape(-1) for curve in self.basis.T]
        jacobian = np.stack(columns, axis=1)
        return np.asarray(jacobian.T @ jacobian)

    @property
    def time_constants_sd(self) -> Array:
        """Standard deviation of each time constant, shape (K,)."""
        return np.sqrt(np.diag(self.covariance)[: self.terms])

    @property
    def final_sd(self) -> Array:
        """Standard deviation of each final state, shape (S,)."""
        start = self.terms
        return np.sqrt(np.diag(self.covariance)[start : start + self.final.size])


def decays(hours: Array, time_constants: Array) -> Array:
    """Give exp(-t / τ), shape (T, K).

    Examples
    --------
    >>> decays(np.array([0.0, 2.0]), np.array([2.0])).round(3).tolist()
    [[1.0], [0.368]]
    """
    return np.asarray(np.exp(-np.divide.outer(hours, time_constants)))


def usual_limits(hours: Array) -> Limits:
    """Give the shortest and the longest time constant that times can speak of."""
    gaps = np.diff(np.unique(hours))
    return FASTEST * float(gaps.min()), SLOWEST * float(np.ptp(hours))


def fit_exponentials(
    hours: Array,
    values: Array,
    terms: int,
    *,
    basis: Array | None = None,
    sd: float | None = None,
    limits: Limits | None = None,
) -> ExponentialFit:
    """Fit so many exponentials to values at several times, by least squares.

    Parameters
    ----------
    hours
        Shape (T,), at least 2 different ones for each term and one more.
    values
        Shape (T,) or (T, S).
    terms
        0 (values that stay), 1 or 2.
    basis
        Shape (S, P); the identity by default.
    sd
        Standard deviation of one value, where it is known; else it is estimated from the fit.
    limits
        Of the time constants; `usual_limits` by default.

    Raises
    ------
    ValueError
        If there are too few times for so many terms, or more than two.

    Examples
    --------
    >>> hours = np.array([0.0, 1.0, 2.0, 4.0, 8.0])
    >>> fit = fit_exponentials(hours, 20.0 - 3.0 * np.exp(-hours / 1.5), 1)
    >>> fit.time_constants.round(3).tolist(), fit.final.round(3).tolist()
    ([1.5], [20.0])
    """
    times = np.asarray(hours, dtype=np.float64)
    table = np.asarray(values, dtype=np.float64).reshape(len(times), -1)
    curves = np.eye(table.shape[1]) if basis is None else np.asarray(basis, dtype=np.float64)
    if terms > 2:
        raise ValueError("more than two exponentials cannot be told apart")
    if np.unique(times).size < 2 * terms + 1:
        raise ValueError(f"{terms} exponentials need {2 * terms + 1} different times at least")
    problem = _Projected(times, table, curves)
    within = usual_limits(times) if limits is None else limits
    constants = np.array([]) if terms == 0 else problem.best(terms, within)
    final, coefficients, squares = problem.linear(constants)
    freedom = table.size - table.shape[1] - coefficients.size - terms
    own_sd = float(np.sqrt(squares / freedom)) if freedom > 0 else float("nan")
    return ExponentialFit(
        hours=times,
        values=table,
        basis=curves,
        time_constants=constants,
        final=final,
        coefficients=coefficients,
        squares=squares,
        sd=own_sd if sd is None else sd,
    )


class _Projected:
    """The least squares problem with all but the time constants solved."""

    def __init__(self, hours: Array, values: Array, basis: Array) -> None:
        self.hours, self.values, self.basis = hours, values, basis
        self.orthogonal, self.triangle = np.linalg.qr(basis)
        self.centred = values - values.mean(axis=0)
        self.common = self.centred @ self.orthogonal
        self.total = float(np.sum(self.centred**2))

    def squares(self, constants: Array) -> float:
        """Give the sum of squared residuals for some time constants."""
        decay = decays(self.hours, constants)
        centred = decay - decay.mean(axis=0)
        pull = centred.T @ self.common
        inner = centred.T @ centred
        # Decays that are over before the second time are alike: no more is explained by both.
        inner[np.diag_indices_from(inner)] *= 1.0 + 1e-12
        return self.total - float(np.sum(pull * np.linalg.solve(inner, pull)))

    def linear(self, constants: Array) -> tuple[Array, Array, float]:
        """Solve for final states and coefficients."""
        decay = decays(self.hours, constants)
        if not constants.size:
            empty = np.zeros((0, self.basis.shape[1]))
            return self.values.mean(axis=0), empty, self.total
        centred = decay - decay.mean(axis=0)
        projected = np.linalg.lstsq(centred, self.common, rcond=None)[0]
        coefficients = np.linalg.solve(self.triangle, projected.T).T
        final = self.values.mean(axis=0) - decay.mean(axis=0) @ coefficients @ self.basis.T
        residual = self.centred - centred @ coefficients @ self.basis.T
        return final, coefficients, float(np.sum(residual**2))

    def best(self, terms: int, limits: Limits) -> Array:
        """Search the time constants: a grid, then the simplex of Nelder and Mead from its best."""
        from scipy.optimize import minimize

        low, high = np.log(limits)
        candidates = _grid(limits, terms)
        start = candidates[int(np.argmin([self.squares(each) for each in candidates]))]

        def cost(logarithms: Array) -> float:
            inside = np.clip(logarithms, low, high)
            apart = np.diff(np.sort(inside))
            if apart.size and apart[0] < np.log(_APART):
                return self.total * (2.0 - float(apart[0]))
            beyond = float(np.sum((logarithms - inside) ** 2))
            return self.squares(np.exp(inside)) + self.total * beyond

        tolerance = {"xatol": 1e-10, "fatol": 0.0, "maxiter": 2000}
        found = minimize(cost, np.log(start), method="Nelder-Mead", options=tolerance)
        return np.sort(np.exp(np.clip(found.x, low, high)))


def _grid(limits: Limits, terms: int) -> list[Array]:
    """List time constants, or pairs of them, evenly by logarithm."""
    single = np.geomspace(*limits, _GRID)
    if terms == 1:
        return [np.array([constant]) for constant in single]
    pairs = combinations(single[::2], 2)
    return [np.array(pair) for pair in pairs if pair[1] / pair[0] >= _APART]


@dataclass(frozen=True, eq=False)
class Draws:
    """What fits besides the best one are credible: draws of what is still to come.

    Attributes
    ----------
    time_constants
        Shape (D, K).
    amplitudes
        Shape (D, K, S).
    final
        Shape (D, S).
    at_the_limit
        Share of draws whose longest time constant is as long as the times can speak of.
    """

    time_constants: Array
    amplitudes: Array
    final: Array
    at_the_limit: float

    def to_come(self, hours: Array) -> Array:
        """Give value minus final state at some times, shape (D, len(hours), S)."""
        decay = np.exp(-np.asarray(hours)[None, :, None] / self.time_constants[:, None, :])
        return np.asarray(np.einsum("dtk,dks->dts", decay, self.amplitudes))


def draw(
    hours: Array,
    values: Array,
    terms: int,
    *,
    basis: Array,
    size: float,
    sd: float,
    limits: Limits,
    count: int,
    seed: int,
) -> Draws:
    """Draw credible fits, given the data: time constants first, then all that is linear in them.

    Time constants are held to be as likely in every octave between their limits and are weighed
    by their likelihood, all else at its best (profile likelihood). Amplitudes are held to be of a
    certain size; without that, values that hardly change could have any change still to come.

    Parameters
    ----------
    hours, values, basis
        As for `fit_exponentials`; two different times are enough.
    terms
        1 or 2.
    size
        Standard deviation of an amplitude, before the data.
    sd
        Standard deviation of one value.
    limits
        Of the time constants.
    count, seed
        How many draws, and which.
    """
    problem = _Projected(hours, values, basis)
    curves = problem.orthogonal.shape[1]
    prior = (size**2 * values.shape[1] / curves) * np.eye(terms)
    random = np.random.default_rng(seed)
    constants = _drawn_constants(problem, terms, prior, sd, limits, count, random)
    coefficients = np.empty((count, terms, curves))
    for row, each in enumerate(constants):
        _, mean, root = _conditional(problem, each, prior, sd)
        coefficients[row] = mean + root @ random.normal(size=mean.shape)
    amplitudes = coefficients @ problem.orthogonal.T
    decay = np.exp(-hours[None, :, None] / constants[:, None, :]).mean(axis=1)
    final = values.mean(axis=0) - np.einsum("dk,dks->ds", decay, amplitudes)
    final = final + random.normal(0.0, sd / np.sqrt(len(hours)), final.shape)
    limit = float(np.mean(constants[:, -1] > _NEAR_LIMIT * limits[1]))
    return Draws(constants, amplitudes, final, limit)


def _drawn_constants(
    problem: _Projected,
    terms: int,
    prior: Array,
    sd: float,
    limits: Limits,
    count: int,
    random: np.random.Generator,
) -> Array:
    """Draw time constants from a grid that closes in on where they are credible, (count, K)."""
    bounds = np.log(limits)
    low, high = np.full(terms, bounds[0]), np.full(terms, bounds[1])
    for closer in range(_CLOSER + 1):
        axes = [np.linspace(low[k], high[k], _POINTS[terms]) for k in range(terms)]
        grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, terms)
        if terms == 2:
            grid = grid[grid[:, 1] - grid[:, 0] >= np.log(_APART)]
        logs = np.array([_conditional(problem, np.exp(each), prior, sd)[0] for each in grid])
        step = (high - low) / (_POINTS[terms] - 1)
        if closer < _CLOSER:
            credible = grid[logs > logs.max() - _CREDIBLE]
            low = np.maximum(credible.min(axis=0) - step, bounds[0])
            high = np.minimum(credible.max(axis=0) + step, bounds[1])
    weights = np.exp(logs - logs.max())
    chosen = random.choice(len(grid), size=count, p=weights / weights.sum())
    drawn = grid[chosen] + random.uniform(-0.5, 0.5, (count, terms)) * step
    return np.asarray(np.exp(np.clip(drawn, *bounds)))


def _conditional(
    problem: _Projected, constants: Array, prior: Array, sd: float
) -> tuple[float, Array, Array]:
    """Give log likelihood, mean and a root of the covariance of amplitudes, by time constants."""
    decay = decays(problem.hours, constants)
    centred = decay - decay.mean(axis=0)
    precision = centred.T @ centred / sd**2 + np.linalg.inv(prior)
    covariance = np.linalg.inv(precision)
    pull = centred.T @ problem.common / sd**2
    mean = covariance @ pull
    return 0.5 * float(np.sum(pull * mean)), mean, np.linalg.cholesky(covariance)
