"""How much a colour changes with the light: special metamerism index, colour inconstancy."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import delta_E_2000, delta_E_ab, xyz_to_lab

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
    """Return the corresponding colour under another white, adaptation complete (CIE 248, CAT16).

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


DIFFERENCES = {"CIEDE2000": delta_E_2000, "ΔE*ab": delta_E_ab}
"""The colour differences that a metamerism index can be stated in."""


def metamerism_index(
    xyz_reference: ArrayLike,
    xyz_test: ArrayLike,
    white_reference: ArrayLike,
    white_test: ArrayLike,
    difference: str = "CIEDE2000",
) -> Array:
    """Return the special metamerism index, change in illuminant, against a flat grey.

    The sample is paired with the spectrally flat grey of equal Y under the reference light. The
    pair does not match exactly there, so the sample's tristimulus values under the test light
    are corrected multiplicatively, component by component, before the difference is taken
    (CIE 15:2018; ISO 18314-4).

    Parameters
    ----------
    xyz_reference, xyz_test
        Shape (..., 3): the sample under the reference and the test light.
    white_reference, white_test
        The perfect diffuser under each, Y = 100: shape (3,), or any that broadcasts.
    difference
        "CIEDE2000" or "ΔE*ab": a name of `DIFFERENCES`.

    Returns
    -------
    Array of shape (...). Zero for a flat grey, and where both lights are the same.

    Examples
    --------
    >>> D50, A = [96.42, 100.0, 82.52], [109.85, 100.0, 35.585]
    >>> float(metamerism_index([48.21, 50.0, 41.26], [54.925, 50.0, 17.7925], D50, A).round(9))
    0.0
    """
    sample = np.asarray(xyz_reference, dtype=np.float64)
    under_test = np.asarray(xyz_test, dtype=np.float64)
    white_r = np.asarray(white_reference, dtype=np.float64)
    white_t = np.asarray(white_test, dtype=np.float64)
    share = sample[..., 1:2] / white_r[..., 1:2]
    # A stimulus without any light has nothing to correct.
    gain = np.divide(share * white_r, sample, out=np.ones_like(sample), where=sample > 0)
    corrected = xyz_to_lab(under_test * gain, white_t)
    grey = xyz_to_lab(share * white_t, white_t)
    return DIFFERENCES[difference](corrected, grey)


def colour_inconstancy(
    xyz_reference: ArrayLike,
    xyz_test: ArrayLike,
    white_reference: ArrayLike,
    white_test: ArrayLike,
) -> Array:
    """Return the colour inconstancy of samples between two lights, in CIEDE2000.

    The corresponding colour, under the reference light, of what is seen under the test light
    (CAT16 with full adaptation, CIE 248:2022) against the sample under the reference light.

    Parameters
    ----------
    xyz_reference, xyz_test
        Shape (..., 3): the sample under the reference and the test light.
    white_reference, white_test
        The perfect diffuser under each, Y = 100: shape (3,), or any that broadcasts.

    Returns
    -------
    Array of shape (...).
    """
    corresponding = adapt_cat16(xyz_test, white_test, white_reference)
    return delta_E_2000(
        xyz_to_lab(corresponding, white_reference), xyz_to_lab(xyz_reference, white_reference)
    )
