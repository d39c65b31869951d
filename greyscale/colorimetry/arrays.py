"""The array types of all colorimetry."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
"""An array of 64-bit floats; the last axis is the colour, or the wavelength."""

Mask = NDArray[np.bool_]
"""An array of truth values."""

Indices = NDArray[np.intp]
"""An array of whole numbers that index another."""

__all__ = ["Array", "ArrayLike", "Indices", "Mask"]
