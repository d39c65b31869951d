"""The array types of all colorimetry, the median, and a smooth step."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
"""An array of 64-bit floats; the last axis is the colour, or the wavelength."""

Mask = NDArray[np.bool_]
"""An array of truth values."""

Indices = NDArray[np.intp]
"""An array of whole numbers that index another."""

__all__ = ["Array", "ArrayLike", "Indices", "Mask", "median", "smooth_step"]


def median(values: ArrayLike, axis: int | None = None) -> Array:
    """Return the median along an axis, or of all values.

    NumPy's own brings its masked arrays with it: their import takes as long as the checks of a
    reading. Of numbers, one at least: what is not a number is not looked for.

    Examples
    --------
    >>> median([[1, 5, 2], [4, 8, 0]], axis=0).tolist(), float(median([3, 1, 2]))
    ([2.5, 6.5, 1.0], 2.0)
    """
    ordered = np.sort(np.asarray(values, dtype=np.float64), axis=axis)
    count, along = ordered.shape[axis or 0], axis or 0
    return np.asarray((ordered.take((count - 1) // 2, along) + ordered.take(count // 2, along)) / 2)


def smooth_step(position: ArrayLike) -> Array:
    """Return 0 below 0, 1 above 1, and a join between that is level at both ends (3x² - 2x³).

    Examples
    --------
    >>> smooth_step([-1.0, 0.25, 0.5, 2.0]).tolist()
    [0.0, 0.15625, 0.5, 1.0]
    """
    x = np.clip(np.asarray(position, dtype=np.float64), 0.0, 1.0)
    return np.asarray(x * x * (3.0 - 2.0 * x))
