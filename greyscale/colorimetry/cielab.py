"""What CIELAB a stimulus has (CIE 15:2018, 8.2.1), and what hue."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.lights import Light
from greyscale.colorimetry.tristimulus import grid_white_point, spectra_to_xyz

# CIE 15:2018, equations 8.3 to 8.8: the cube root goes over into a straight line at (6/29)³.
_THRESHOLD = (6 / 29) ** 3
_SLOPE = (29 / 6) ** 2 / 3
_OFFSET = 4 / 29


def lightness(Y: ArrayLike, Y_white: float = 100.0) -> Array:
    """Return L* of luminous reflectance factors.

    Parameters
    ----------
    Y
        Any shape, on the scale of `Y_white`.

    Returns
    -------
    L*, of the same shape.

    Examples
    --------
    >>> lightness([0.0, 18.4186518, 100.0]).round(4).tolist()
    [0.0, 50.0, 100.0]
    """
    return 116.0 * _compress(np.asarray(Y, dtype=np.float64) / Y_white) - 16.0


def luminance(L: ArrayLike, Y_white: float = 100.0) -> Array:
    """Return Y of L*: the inverse of `lightness`."""
    return _expand((np.asarray(L, dtype=np.float64) + 16.0) / 116.0) * Y_white


def _compress(t: Array) -> Array:
    return np.where(t > _THRESHOLD, np.cbrt(t), _SLOPE * t + _OFFSET)


def _expand(f: Array) -> Array:
    return np.where(f > 6 / 29, f * f * f, (f - _OFFSET) / _SLOPE)


def xyz_to_lab(xyz: ArrayLike, white: ArrayLike) -> Array:
    """Turn X, Y, Z into L*, a*, b*.

    Parameters
    ----------
    xyz
        Shape (..., 3).
    white
        Shape (3,) or broadcastable, on the same scale.

    Returns
    -------
    Array of shape (..., 3).

    Examples
    --------
    >>> xyz_to_lab([96.42, 100.0, 82.52], [96.42, 100.0, 82.52]).tolist()
    [100.0, 0.0, 0.0]
    """
    f = _compress(np.asarray(xyz, dtype=np.float64) / np.asarray(white, dtype=np.float64))
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    lab = np.empty_like(f)
    lab[..., 0], lab[..., 1], lab[..., 2] = 116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)
    return lab


def lab_to_xyz(lab: ArrayLike, white: ArrayLike) -> Array:
    """Turn L*, a*, b* into X, Y, Z: the inverse of `xyz_to_lab`.

    Examples
    --------
    >>> lab_to_xyz([100.0, 0.0, 0.0], [96.42, 100.0, 82.52]).round(2).tolist()
    [96.42, 100.0, 82.52]
    """
    values = np.asarray(lab, dtype=np.float64)
    y = (values[..., 0] + 16.0) / 116.0
    f = np.stack([y + values[..., 1] / 500.0, y, y - values[..., 2] / 200.0], axis=-1)
    return _expand(f) * np.asarray(white, dtype=np.float64)


def spectra_to_lab(
    spectra: ArrayLike,
    wavelengths: ArrayLike,
    source: str | Light = "D50",
    observer: str = "2",
) -> Array:
    """Turn reflectance factors into CIELAB against the light's own perfect diffuser.

    Parameters
    ----------
    spectra
        Shape (..., count), 1 = perfect diffuser.
    wavelengths
        Shape (count,), equally spaced, nm.

    Returns
    -------
    Array of shape (..., 3). A spectrally flat grey has a* = b* = 0 under every light.
    """
    white = grid_white_point(wavelengths, source, observer)
    return xyz_to_lab(spectra_to_xyz(spectra, wavelengths, source, observer), white)


def chroma(ab: ArrayLike) -> Array:
    """Return C*ab of (..., 2) arrays of a*, b*."""
    values = np.asarray(ab, dtype=np.float64)
    return np.asarray(np.sqrt(values[..., 0] ** 2 + values[..., 1] ** 2))


def hue_angle(ab: ArrayLike) -> Array:
    """Return the hue angle, degrees from 0 to 360, of (..., 2) arrays of a*, b*.

    Examples
    --------
    >>> hue_angle([[1.0, 0.0], [0.0, -2.0]]).tolist()
    [0.0, 270.0]
    """
    values = np.asarray(ab, dtype=np.float64)
    return np.degrees(np.arctan2(values[..., 1], values[..., 0])) % 360.0
