"""sRGB (IEC 61966-2-1): decoded, encoded, and how a screen would show CIELAB under D50."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike, Mask
from greyscale.colorimetry.cielab import lab_to_xyz

# IEC 61966-2-1: chromaticities of the red, green and blue primary (those of ITU-R BT.709), and of
# the white, D65 to four places.
_PRIMARIES = np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
_WHITE = np.array([0.3127, 0.3290])

# Where a* = b* = 0 lies. Any D50 serves: what is neutral there goes to the screen's own white.
_D50 = np.array([96.422, 100.0, 82.521])

# Linear Bradford, as ICC.1:2010 (annex E) and ICC.1:2022 prescribe it between D50 and another
# white.
_BRADFORD = np.array(
    [
        [0.8951, 0.2664, -0.1614],
        [-0.7502, 1.7135, 0.0367],
        [0.0389, -0.0685, 1.0296],
    ]
)

# Rounding alone moves a colour on the edge of the gamut this far outside.
_EDGE = 1e-6


def lab_to_srgb(lab: ArrayLike) -> tuple[Array, Mask]:
    """Turn CIELAB under D50 into encoded sRGB, as a calibrated screen would show it.

    L* = 100 becomes the screen's white. D50 is adapted to the screen's D65 by the linear Bradford
    transform, as colour-managed programs do it through ICC profiles. What sRGB cannot show is
    clipped channel by channel, and said.

    Parameters
    ----------
    lab
        Shape (..., 3): L*, a*, b* under D50.

    Returns
    -------
    rgb
        Shape (..., 3): encoded R, G, B from 0 to 1.
    clipped
        Shape (...,): whether the colour lies outside sRGB and was changed.

    Examples
    --------
    >>> rgb, clipped = lab_to_srgb([[100.0, 0.0, 0.0], [50.0, 0.0, 0.0], [50.0, 120.0, 0.0]])
    >>> (255 * rgb).round().tolist()
    [[255.0, 255.0, 255.0], [119.0, 119.0, 119.0], [255.0, 0.0, 126.0]]
    >>> clipped.tolist()
    [False, False, True]
    """
    linear = lab_to_xyz(lab, _D50) @ _to_linear_srgb().T / 100.0
    clipped = np.asarray(np.any((linear < -_EDGE) | (linear > 1 + _EDGE), axis=-1))
    return srgb_encoded(np.clip(linear, 0.0, 1.0)), clipped


def _to_linear_srgb() -> Array:
    """Return the matrix from XYZ under D50 to linear sRGB."""
    white = _xyz(_WHITE)
    directions = np.stack([_xyz(primary) for primary in _PRIMARIES], axis=1)
    rgb_to_xyz = directions * np.linalg.solve(directions, white)
    gain = (_BRADFORD @ white) / (_BRADFORD @ (_D50 / 100.0))
    adaptation = np.linalg.solve(_BRADFORD, gain[:, np.newaxis] * _BRADFORD)
    return np.asarray(np.linalg.solve(rgb_to_xyz, adaptation))


def _xyz(chromaticity: Array) -> Array:
    """Return X, Y, Z of x, y at Y = 1."""
    x, y = chromaticity
    return np.array([x / y, 1.0, (1 - x - y) / y])


LUMINANCE_WEIGHTS = np.array([0.2126, 0.7152, 0.0722])
"""Shares of R, G, B in luminance: ITU-R BT.709, item 3.2, the primaries of sRGB as well."""


def srgb_decoded(encoded: Array) -> Array:
    """Return linear light, 0 to 1, of encoded sRGB: IEC 61966-2-1, 5.2, the way back.

    Examples
    --------
    >>> srgb_decoded(np.array([0.0, 0.5, 1.0])).round(4).tolist()
    [0.0, 0.214, 1.0]
    """
    power = ((np.maximum(encoded, 0.0) + 0.055) / 1.055) ** 2.4
    return np.where(encoded <= 0.04045, encoded / 12.92, power)


def srgb_encoded(linear: Array) -> Array:
    """Return encoded sRGB, 0 to 1, of linear light: IEC 61966-2-1, 5.2."""
    # A straight line near black, then a power.
    return np.where(
        linear <= 0.0031308,
        12.92 * linear,
        1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055,
    )
