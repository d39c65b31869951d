"""Whether and where an ink sets in, told from the evidence."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.printer.covariance import WEIGHTS, Covariance, Onset, Pairs, Points
from greyscale.printer.gaussian_process import BEFOREHAND

_GRID = np.linspace(0.08, 0.95, 59)
_APART = 0.12  # How far the other channels' levels start from that of the channel that decides.
_LEAST_BEHIND = 6  # Patches that must lie behind an onset, to tell what it does.
_SIZE, _SIZE_OFF_AXIS = 40.0, 8.0  # What an onset may add, per level: as in the process.
_IMPOSSIBLE = -1e3


def best_onset(
    device: Array, answers: Array, noise: Array, known: Sequence[Onset], *, alone: bool
) -> tuple[float, Onset]:
    """Find the onset that explains most, beside those known.

    Parameters
    ----------
    device
        Shape (n, 3).
    answers, noise
        Shape (n, 3) and (n,): L*, a*, b* measured less what the general prior says, and the
        variance.
    alone
        Whether only a ramp was measured. It cannot tell what the driver goes by; their mean is
        taken.

    Returns
    -------
    How much larger the log evidence becomes by it, and the onset.
    """
    gain = _gain(device, answers, noise, known)
    if alone:
        return _best_by_mean(gain, "mean")
    found = [_best_by_mean(gain, by) for by in WEIGHTS]
    found.append(_best_each(gain))
    found.extend(_best_least(gain))
    return max(found, key=lambda pair: pair[0])


def _gain(
    device: Array, answers: Array, noise: Array, known: Sequence[Onset]
) -> Callable[[Onset], float]:
    """Return the function that says how much an onset adds to the log evidence.

    With the parameters at their medians, an onset adds a few columns to a linear model; the rest
    needs to be factored only once (Rasmussen and Williams 2006, section 2.7).
    """
    from scipy.linalg.lapack import dpotrf, dtrtrs

    points = Points(device, known)
    matrix = Covariance(Pairs(points, points), BEFOREHAND).value
    matrix[np.diag_indices_from(matrix)] += noise
    # LAPACK itself: what SciPy puts around it takes a third of the time of matrices so small.
    factor, failed = dpotrf(matrix, lower=1)
    if failed:
        raise np.linalg.LinAlgError("the covariance of the answers is not positive definite")
    whitened, _ = dtrtrs(factor, answers, lower=1)
    offset = points.offset

    def gain(onset: Onset) -> float:
        amounts = onset.amounts(device)
        if np.count_nonzero(amounts.any(axis=1)) < _LEAST_BEHIND:
            return _IMPOSSIBLE
        columns = [_SIZE * amounts, _SIZE * amounts**2]
        columns += [_SIZE_OFF_AXIS * amounts * offset[:, [i]] for i in (0, 1)]
        added = np.concatenate(columns, axis=1)
        white, _ = dtrtrs(factor, added, lower=1)
        small, _ = dpotrf(np.eye(white.shape[1]) + white.T @ white, lower=1)
        fitted, _ = dtrtrs(small, white.T @ whitened, lower=1)
        outputs = answers.shape[1]
        return float(0.5 * np.sum(fitted**2) - outputs * np.log(np.diag(small)).sum())

    return gain


def _refined(
    gain: Callable[[Onset], float], make: Callable[[Array], Onset], start: Array, step: float
) -> tuple[float, Onset]:
    from scipy.optimize import minimize

    corners = np.vstack([start, start + step * np.eye(start.size)])
    found = minimize(
        lambda levels: -gain(make(levels)),
        start,
        method="Nelder-Mead",
        options={
            "initial_simplex": corners,
            "maxfev": 40 * start.size,
            "xatol": 5e-4,
            "fatol": 0.05,
        },
    )
    return -float(found.fun), make(found.x)


def _on_grid(gain: Callable[[Onset], float], make: Callable[[Array], Onset]) -> float:
    gains = [gain(make(np.array([level]))) for level in _GRID]
    return float(_GRID[int(np.argmax(gains))])


def _best_by_mean(gain: Callable[[Onset], float], by: str) -> tuple[float, Onset]:
    def make(levels: Array) -> Onset:
        return Onset(by, (float(levels[0]),) * 3)

    return _refined(gain, make, np.array([_on_grid(gain, make)]), 0.006)


def _best_each(gain: Callable[[Onset], float]) -> tuple[float, Onset]:
    def alike(levels: Array) -> Onset:
        return Onset("each", (float(levels[0]),) * 3)

    return _refined(gain, alike, np.array([_on_grid(gain, alike)]), 0.006)


def _best_least(gain: Callable[[Onset], float]) -> list[tuple[float, Onset]]:
    """Find the best by the least ink: started where all decide alike, and where one decides."""

    def make(levels: Array) -> Onset:
        red, green, blue = levels
        return Onset("least", (float(red), float(green), float(blue)))

    starts = [np.full(3, _on_grid(gain, lambda level: make(np.repeat(level, 3))))]
    for channel in range(3):
        others = np.where(np.arange(3) == channel, 0.0, _APART)
        level = _on_grid(gain, lambda level, others=others: make(level + others))  # type: ignore[misc]
        starts.append(level + others)
    return [_refined(gain, make, start, 0.03) for start in starts]
