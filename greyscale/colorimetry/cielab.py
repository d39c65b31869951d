"""CIELAB of tristimulus values, how far apart two colours are, and how dense a print is."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.lights import Light, cie_illuminant
from greyscale.colorimetry.observers import colour_matching_functions
from greyscale.colorimetry.tristimulus import (
    WavelengthGrid,
    grid_white_point,
    integration_weights,
    spectra_to_xyz,
)

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
    root, dark = np.cbrt(t), t <= _THRESHOLD
    return np.where(dark, _SLOPE * t + _OFFSET, root) if dark.any() else root


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


def delta_E_ab(first: ArrayLike, second: ArrayLike) -> Array:
    """Return ΔE*ab (CIE 15:2018, 8.2.1.3) of (..., 3) arrays of CIELAB.

    Examples
    --------
    >>> float(delta_E_ab([50.0, 0.0, 0.0], [50.0, 3.0, 4.0]))
    5.0
    """
    difference = np.asarray(first, dtype=np.float64) - np.asarray(second, dtype=np.float64)
    return np.asarray(np.sqrt(np.sum(difference**2, axis=-1)))


def delta_Ch(first: ArrayLike, second: ArrayLike) -> Array:
    """Return ΔCh, the chromaticness difference sqrt(Δa*² + Δb*²) (ISO 12647-7), of CIELAB arrays.

    Parameters
    ----------
    first, second
        Shape (..., 3): L*, a*, b*. Lightness has no part in it.

    Examples
    --------
    >>> float(delta_Ch([50.0, 0.0, 0.0], [20.0, 3.0, 4.0]))
    5.0
    """
    difference = np.asarray(first, dtype=np.float64) - np.asarray(second, dtype=np.float64)
    return chroma(difference[..., 1:])


def delta_E_2000(first: ArrayLike, second: ArrayLike) -> Array:
    """Return the CIEDE2000 difference (ISO/CIE 11664-6) with kL = kC = kH = 1.

    Parameters
    ----------
    first, second
        Shape (..., 3): L*, a*, b*.

    Examples
    --------
    >>> round(float(delta_E_2000([50, 2.6772, -79.7751], [50, 0, -82.7485])), 4)
    2.0425
    """
    lab_1 = np.asarray(first, dtype=np.float64)
    lab_2 = np.asarray(second, dtype=np.float64)
    L_1, L_2 = lab_1[..., 0], lab_2[..., 0]

    mean_chroma = (chroma(lab_1[..., 1:]) + chroma(lab_2[..., 1:])) / 2
    stretch = 1.5 - 0.5 * _saturating(mean_chroma)
    ab_1 = np.stack([lab_1[..., 1] * stretch, lab_1[..., 2]], axis=-1)
    ab_2 = np.stack([lab_2[..., 1] * stretch, lab_2[..., 2]], axis=-1)
    C_1, C_2 = chroma(ab_1), chroma(ab_2)
    h_1, h_2 = hue_angle(ab_1), hue_angle(ab_2)
    coloured = C_1 * C_2 != 0

    turn = (h_2 - h_1 + 180) % 360 - 180
    # At exactly half a turn the formula keeps the sign of h2 - h1 (Sharma et al. 2005, eq. 10).
    turn = np.where(np.abs(h_2 - h_1) == 180, h_2 - h_1, turn)
    delta_h = np.where(coloured, turn, 0.0)
    delta_L = L_2 - L_1
    delta_C = C_2 - C_1
    delta_H = 2 * np.sqrt(C_1 * C_2) * np.sin(np.radians(delta_h / 2))

    L = (L_1 + L_2) / 2
    C = (C_1 + C_2) / 2
    h = _mean_hue(h_1, h_2, coloured)
    T = (
        1
        - 0.17 * np.cos(np.radians(h - 30))
        + 0.24 * np.cos(np.radians(2 * h))
        + 0.32 * np.cos(np.radians(3 * h + 6))
        - 0.20 * np.cos(np.radians(4 * h - 63))
    )
    S_L = 1 + 0.015 * (L - 50) ** 2 / np.sqrt(20 + (L - 50) ** 2)
    S_C = 1 + 0.045 * C
    S_H = 1 + 0.015 * C * T
    rotation = np.radians(60 * np.exp(-(((h - 275) / 25) ** 2)))
    R_T = -2 * _saturating(C) * np.sin(rotation)
    term_L, term_C, term_H = delta_L / S_L, delta_C / S_C, delta_H / S_H
    squared = term_L**2 + term_C**2 + term_H**2 + R_T * term_C * term_H
    return np.asarray(np.sqrt(np.maximum(squared, 0.0)))


def _saturating(C: Array) -> Array:
    """Return sqrt(C⁷ / (C⁷ + 25⁷)), without overflow for any chroma."""
    ratio = (C / 25.0) ** 7
    return np.sqrt(ratio / (ratio + 1))


def _mean_hue(h_1: Array, h_2: Array, coloured: Array) -> Array:
    """Return the mean hue angle, the sum where one colour has none (Sharma et al. 2005, eq. 14)."""
    total = h_1 + h_2
    near = np.abs(h_1 - h_2) <= 180
    across = np.where(total < 360, (total + 360) / 2, (total - 360) / 2)
    return np.where(coloured, np.where(near, total / 2, across), total)


def mean_over_lightness(values: ArrayLike, L: ArrayLike) -> float:
    """Return the mean over L*, by trapezoids along the ramp.

    Charts with unlike steps compare by it: crowded tones count no more than spread ones.

    Parameters
    ----------
    values, L
        Shape (n,), in the order of the ramp.

    Examples
    --------
    >>> mean_over_lightness([1.0, 1.0, 3.0], [90.0, 89.0, 15.0])
    1.9866666666666666
    """
    return float(means_over_lightness(values, L))


def means_over_lightness(values: ArrayLike, L: ArrayLike) -> Array:
    """Return the means over L* of many ramps, shape (...), of arrays of shape (..., n)."""
    measured = np.asarray(values, dtype=np.float64)
    width = np.abs(np.diff(np.asarray(L, dtype=np.float64), axis=-1))
    total = width.sum(axis=-1)
    middles = (measured[..., 1:] + measured[..., :-1]) / 2
    area = np.sum(middles * width, axis=-1)
    plain = measured.mean(axis=-1)
    return np.asarray(np.where(total > 0, area / np.where(total > 0, total, 1.0), plain))


LEAST_REFLECTANCE = 1e-5
"""Reflectance factors are held above this; no print is denser than 5.0."""


@lru_cache(maxsize=64)
def _density_weights(grid: WavelengthGrid) -> Array:
    # The visual spectral product: illuminant A times V(λ) (ISO 5-3:2009). The standard's 10 nm
    # products are for instruments with filters; from spectra the weights are made at 1 nm.
    product = cie_illuminant("A").power * colour_matching_functions("2")[:, 1]
    weights = integration_weights(grid, product[:, np.newaxis])[:, 0]
    return np.asarray(weights / weights.sum())


def visual_density(spectra: ArrayLike, wavelengths: ArrayLike) -> Array:
    """Return visual density, relative to the perfect diffuser, from spectra.

    Parameters
    ----------
    spectra
        Shape (..., count), reflectance factors, 1 = perfect diffuser.
    wavelengths
        Shape (count,), equally spaced, nm.

    Returns
    -------
    Array of shape (...).

    Examples
    --------
    >>> round(float(visual_density([0.01] * 31, range(400, 701, 10))), 6)
    2.0
    """
    weights = _density_weights(WavelengthGrid.of(wavelengths))
    factor = np.asarray(spectra, dtype=np.float64) @ weights
    return np.asarray(-np.log10(np.maximum(factor, LEAST_REFLECTANCE)))


def density_from_lightness(L: ArrayLike) -> Array:
    """Return -log10(Y / 100) of L*: what stands in for density where there are no spectra.

    Examples
    --------
    >>> density_from_lightness([49.4961]).round(3).tolist()
    [0.745]
    """
    return np.asarray(-np.log10(np.maximum(luminance(L) / 100.0, LEAST_REFLECTANCE)))
