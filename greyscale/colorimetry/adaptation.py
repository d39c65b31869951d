"""What a stimulus looks like under another light: CAT16."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike

# CAT16's cone-like primaries: Li et al. (2017), Comprehensive color solutions: CAM16, CAT16,
# and CAM16-UCS, Color Research & Application 42(6); the same in CIE 248:2022.
_CAT16 = np.array(
    [
        [0.401288, 0.650173, -0.051461],
        [-0.250268, 1.204414, 0.045854],
        [-0.002079, 0.048952, 0.953127],
    ]
)


def adapt_cat16(xyz: ArrayLike, white_from: ArrayLike, white_to: ArrayLike) -> Array:
    """Give the corresponding colour under another white, adaptation complete (CIE 248, CAT16).

    Parameters
    ----------
    xyz
        Shape (..., 3), under the first white.
    white_from, white_to
        Shape (3,), or broadcastable to `xyz`; on the same scale.

    Returns
    -------
    Array of shape (..., 3).

    Examples
    --------
    >>> A, D50 = [109.85, 100.0, 35.585], [96.42, 100.0, 82.52]
    >>> adapt_cat16(A, A, D50).round(2).tolist()
    [96.42, 100.0, 82.52]
    """
    cones_from = np.asarray(white_from, dtype=np.float64) @ _CAT16.T
    cones_to = np.asarray(white_to, dtype=np.float64) @ _CAT16.T
    Y_from = np.asarray(white_from, dtype=np.float64)[..., 1:2]
    Y_to = np.asarray(white_to, dtype=np.float64)[..., 1:2]
    gain = (Y_from / Y_to) * (cones_to / cones_from)
    cones = np.asarray(xyz, dtype=np.float64) @ _CAT16.T
    return np.asarray((cones * gain) @ np.linalg.inv(_CAT16).T)
