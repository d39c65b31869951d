"""The correction as a 1D LUT: three channels, each looked up by its own value."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.correction.curve import Curve

FEWEST_POINTS, MOST_POINTS = 1024, 4096


def lut_1d(curve: Curve, points: int | None = None) -> Array:
    """Sample the curve in equal steps of level.

    Parameters
    ----------
    points
        None takes the curve's own points, so that the LUT is the curve; else from 1024 (four for
        each step of an 8-bit picture) to 4096 (the most that the usual readers take).

    Returns
    -------
    Array of shape (points, 3): R, G, B from 0 to 1.

    Raises
    ------
    ValueError
        If `points` is out of that range.
    """
    if points is None:
        points = len(curve)
    if not FEWEST_POINTS <= points <= MOST_POINTS:
        raise ValueError(f"a 1D LUT has {FEWEST_POINTS} to {MOST_POINTS} points here, not {points}")
    levels = np.linspace(0.0, 1.0, points)
    return curve.apply(np.repeat(levels[:, np.newaxis], 3, axis=1))
