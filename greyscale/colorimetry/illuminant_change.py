"""How much a colour changes with the light: special metamerism index, colour inconstancy."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.adaptation import adapt_cat16
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.colorimetry.differences import delta_E_2000, delta_E_ab

DIFFERENCES = {"CIEDE2000": delta_E_2000, "ΔE*ab": delta_E_ab}
"""The colour differences that a metamerism index can be stated in."""


def metamerism_index(
    xyz_reference: ArrayLike,
    xyz_test: ArrayLike,
    white_reference: ArrayLike,
    white_test: ArrayLike,
    difference: str = "CIEDE2000",
) -> Array:
    """Give the special metamerism index, change in illuminant, against a flat grey.

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
    """Give the colour inconstancy of samples between two lights, in CIEDE2000.

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
