"""Matérn covariances: how alike the values of a smooth function are, by how far apart they lie."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, equation 4.17. Distances are
# scaled: sqrt(2 ν) times the distance, over the length.


def matern_32(distance: Array) -> Array:
    """The covariance with ν = 3/2 at scaled distances √3 d/length, of the same shape."""
    return np.asarray((1.0 + distance) * np.exp(-distance))


def matern_52(distance: Array, decay: Array | None = None) -> Array:
    """The covariance with ν = 5/2 at scaled distances √5 d/length, of the same shape.

    Parameters
    ----------
    distance
        Any shape.
    decay
        exp(-distance), where that is known already: it takes most of the time.
    """
    decay = np.exp(-distance) if decay is None else decay
    return np.asarray((1.0 + distance + distance * distance / 3.0) * decay)


def matern_52_fall(distance: Array, decay: Array) -> Array:
    """Minus the derivative of `matern_52` by the scaled distance."""
    return np.asarray(distance / 3.0 * (1.0 + distance) * decay)
