"""The solved tones made smooth, as far as nobody knows better."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array

SHARP_BEND = 1e-3
"""Second difference of R, G, B from one of 256 tones to the next that counts like an error of one
standard deviation. Tone curves bend by a tenth of it (d²/dv² = 6); only where black is blocked, or
a channel leaves its end, do solved values bend so sharply."""

_LEAST_SD = 0.03  # However sure the model is of itself, CIELAB units.
_FIXED = 1e12  # Weight that holds black and paper where they are.


def smoothed(rgb: Array, jacobian: Array, sd: Array, priority: Array | None = None) -> Array:
    """Give the smoothest values that print the same within the model's uncertainty.

    Where the printer's answer is well known, the values stay. Where it is not, or where many values
    print nearly alike, as in a blocked shadow, what looks like a bend is noise, and goes.

    Parameters
    ----------
    rgb
        Shape (n, 3): the solved values; the first and the last stay as they are.
    jacobian, sd
        Shapes (n, 3, 3) and (n, 3): change of CIELAB with the values, and its uncertainty.
    priority
        Shape (n,): how much each tone counts; None counts all alike.

    Returns
    -------
    Array of shape (n, 3): the least sum of priority × (change / uncertainty)² and of
    (bend / `SHARP_BEND`)² (a smoothing spline in three channels at once; Green and Silverman
    1994, Nonparametric Regression and Generalized Linear Models).
    """
    from scipy.linalg import solveh_banded

    weight = 1.0 / np.maximum(sd, _LEAST_SD) ** 2
    if priority is not None:
        weight *= priority[:, np.newaxis]
    known = np.einsum("nij,ni,nik->njk", jacobian, weight, jacobian)
    known[[0, -1]] = _FIXED * np.eye(3)
    bands = _roughness(len(rgb)) / SHARP_BEND**2
    for row in range(3):
        for column in range(row + 1):
            bands[row - column, column::3] += known[:, row, column]
    right = np.einsum("nij,nj->ni", known, rgb).ravel()
    smoothed = np.asarray(solveh_banded(bands, right, lower=True), dtype=np.float64)
    smoothed = np.clip(smoothed.reshape(-1, 3), 0.0, 1.0)
    smoothed[[0, -1]] = rgb[[0, -1]]
    return smoothed


def _roughness(count: int) -> Array:
    """Give the sum of squared second differences as the lower bands of a matrix, (7, 3 count)."""
    difference = np.zeros((count - 2, count))
    for offset, value in enumerate((1.0, -2.0, 1.0)):
        difference[np.arange(count - 2), np.arange(count - 2) + offset] = value
    square = difference.T @ difference
    bands = np.zeros((7, 3 * count))
    for apart in range(3):
        diagonal = np.diagonal(square, -apart)
        bands[3 * apart, : 3 * diagonal.size] = np.repeat(diagonal, 3)
    return bands
