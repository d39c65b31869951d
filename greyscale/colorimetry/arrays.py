"""The array types of all colorimetry, and a smooth step."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
"""An array of 64-bit floats; the last axis is the colour, or the wavelength."""

Mask = NDArray[np.bool_]
"""An array of truth values."""

Indices = NDArray[np.intp]
"""An array of whole numbers that index another."""

__all__ = ["Array", "ArrayLike", "Indices", "Mask", "smooth_step"]


def smooth_step(position: ArrayLike) -> Array:
    """Return 0 below 0, 1 above 1, and a join between that is level at both ends (3x² - 2x³).

    Examples
    --------
    >>> smooth_step([-1.0, 0.25, 0.5, 2.0]).tolist()
    [0.0, 0.15625, 0.5, 1.0]
    """
    x = np.clip(np.asarray(position, dtype=np.float64), 0.0, 1.0)
    return np.asarray(x * x * (3.0 - 2.0 * x))
