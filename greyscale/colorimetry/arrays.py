"""The array types of all colorimetry, and what is done with arrays everywhere."""

from __future__ import annotations

from math import ceil

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
"""An array of 64-bit floats; the last axis is the colour, or the wavelength."""

Mask = NDArray[np.bool_]
"""An array of truth values."""

Indices = NDArray[np.intp]
"""An array of whole numbers that index another."""

__all__ = [
    "Array", "ArrayLike", "Indices", "Mask", "columns_at", "equal_channels", "matern_32",
    "matern_52", "matern_92", "matern_92_fall", "medians", "quantiles", "runs_of", "smooth_step",
]  # fmt: skip


def columns_at(places: ArrayLike, known: Array, values: Array) -> Array:
    """Return columns of values between the places they are known at, straight, held beyond.

    Parameters
    ----------
    places
        Any shape (...).
    known, values
        Shapes (n,), rising, and (n, m).

    Returns
    -------
    Array of shape (..., m).

    Examples
    --------
    >>> columns_at([0.5, 2.0], np.array([0.0, 1.0]), np.array([[0.0, 10.0], [1.0, 30.0]])).tolist()
    [[0.5, 20.0], [1.0, 30.0]]
    """
    at = np.asarray(places, dtype=np.float64)
    return np.stack([np.interp(at, known, column) for column in values.T], axis=-1)


def equal_channels(level: Array) -> Array:
    """Return device values with equal channels, shape (n, 3), of levels (n,)."""
    return np.repeat(level[:, np.newaxis], 3, axis=1)


def medians(values: Array, axis: int = 0) -> Array:
    """Return the medians along an axis, of numbers only; see `quantiles`.

    Examples
    --------
    >>> medians(np.array([[3.0, 1.0], [1.0, 2.0], [2.0, 6.0], [4.0, 3.0]])).tolist()
    [2.5, 2.5]
    """
    return quantiles(values, 0.5, axis)


def quantiles(values: Array, share: float, axis: int = 0) -> Array:
    """Return the values along an axis below which a share lies, straight between two of them.

    Of numbers only. NumPy's own ask for masks and for what is no number, which takes ten times as
    long for arrays as small as a reading's, and once as long again as NumPy's import.

    Examples
    --------
    >>> quantiles(np.array([3.0, 1.0, 2.0]), 0.75).tolist()
    2.5
    """
    ordered, at = np.sort(values, axis=axis), share * (values.shape[axis] - 1)
    low, part = ordered.take(int(at), axis), at % 1
    return np.asarray((1 - part) * low + part * ordered.take(ceil(at), axis) if part else low)


def runs_of(mask: Mask) -> list[tuple[int, int]]:
    """Return the half-open ranges of neighbours that are all true.

    Examples
    --------
    >>> runs_of(np.array([True, True, False, True]))
    [(0, 2), (3, 4)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    return [(int(start), int(stop)) for start, stop in edges.reshape(-1, 2)]


def smooth_step(position: ArrayLike) -> Array:
    """Return 0 below 0, 1 above 1, and a join between that is level at both ends (3x² - 2x³).

    Examples
    --------
    >>> smooth_step([-1.0, 0.25, 0.5, 2.0]).tolist()
    [0.0, 0.15625, 0.5, 1.0]
    """
    x = np.clip(np.asarray(position, dtype=np.float64), 0.0, 1.0)
    return np.asarray(x * x * (3.0 - 2.0 * x))


# Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, equations 4.14 to 4.17.
# Distances are scaled: sqrt(2 ν) times the distance, over the length.


def matern_32(distance: Array) -> Array:
    """The covariance with ν = 3/2 at scaled distances √3 d/length, of the same shape."""
    return np.asarray((1.0 + distance) * np.exp(-distance))


def matern_52(distance: Array) -> Array:
    """The covariance with ν = 5/2 at scaled distances √5 d/length, of the same shape."""
    return np.asarray((1.0 + distance * (1.0 + distance / 3.0)) * np.exp(-distance))


def matern_92(distance: Array, decay: Array) -> Array:
    """The covariance with ν = 9/2 at scaled distances 3 d/length, of the same shape.

    Parameters
    ----------
    distance
        Any shape.
    decay
        exp(-distance), since the slope needs it too: it takes most of the time.
    """
    total = _horner(distance, 105, 2 / 21, 3 / 7, 1.0)
    total += 1.0
    total *= decay
    return total


def matern_92_fall(distance: Array, decay: Array) -> Array:
    """Minus the derivative of `matern_92` by the scaled distance."""
    total = _horner(distance, 15, 2 / 5, 1.0)
    total += 1.0
    total *= distance / 7
    total *= decay
    return total


def _horner(x: Array, divisor: float, *factors: float) -> Array:
    """The polynomial x (factor + x (... + x / divisor)), in place: much of a fit's time is it."""
    total = np.asarray(x / divisor)
    for factor in factors:
        total += factor
        total *= x
    return total
