"""How far apart two colours are."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import chroma, hue_angle


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
