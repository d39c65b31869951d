"""How much a brightener glows under a light, from its glow under D50.

The luminescent part of a print under D50 is β = R_M1 - R_M2. Under a light t it is, as a
radiance factor, β_t(λ) = β(λ) · S_D50(λ) / S_t(λ) · U_t / U_D50, the lights scaled to equal
luminance, U the power that excites the brightener. Times S_t this is β · S_D50 · U_t / U_D50:
tristimulus values need no more than one factor per light, however little of it a lamp emits.
"""

from __future__ import annotations

from functools import lru_cache
from importlib import resources

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.colorimetry.lights import (
    REFERENCE_LIGHT,
    Light,
    at_wavelengths,
    light,
    luminous_power,
)
from greyscale.colorimetry.tristimulus import grid_white_point, spectra_to_xyz

EMISSION_PEAK = 440.0
"""Where brighteners emit most, nm."""

NEGLIGIBLE = 0.01
"""A table that lacks less than this share of D50's excitation counts as whole."""


@lru_cache(maxsize=1)
def excitation_curve() -> tuple[Array, Array]:
    """Return the excitation curve of brighteners at 1 nm: wavelengths, nm, and relative value."""
    text = (resources.files("greyscale.colorimetry.data") / "brightener-excitation.csv").read_text(
        encoding="utf-8"
    )
    table = np.array([row.split(",") for row in text.splitlines()[2:]], dtype=np.float64)
    grid = np.arange(table[0, 0], table[-1, 0] + 1)
    return grid, np.interp(grid, table[:, 0], table[:, 1])


def emission_curve(wavelengths: ArrayLike) -> Array:
    """Return the usual emission of a brightener as a radiance factor under D50, its peak 1.

    A peak at 440 nm, steep below, with a long tail towards green. Drawn from memory of the usual
    shape, not measured; it stands in where only one measuring condition was read.
    """
    nm = np.asarray(wavelengths, dtype=np.float64)
    width = np.where(nm < EMISSION_PEAK, 17.0, 36.0)
    return np.asarray(np.exp(-0.5 * ((nm - EMISSION_PEAK) / width) ** 2))


SHIFT = 8.0
"""Excitation curves of brighteners lie up to so many nm to either side of the one here (memory of
the usual spread of stilbene brighteners on papers, not measured)."""


def credible_excitation(source: str | Light) -> tuple[float, float]:
    """Return the least and the most that a light may excite brighteners, relative to D50.

    The excitation curve may lie up to `SHIFT` to either side, and what is not known of the light
    may be there or not.
    """
    found = [excitation(source, shift) for shift in (-SHIFT, 0.0, SHIFT)]
    return min(found), max(found) + unknown_excitation(source)


def excitation(source: str | Light, shift: float = 0.0) -> float:
    """Return how much a light excites brighteners, by what is known of it, relative to D50.

    Both at equal luminance. What lies below the light's table counts as nothing. The excitation
    curve may be shifted by some nm.

    Examples
    --------
    >>> excitation("D50"), 0.2 < excitation("A") < 0.4
    (1.0, True)
    """
    return _excited(light(source), shift) / _excited(light(REFERENCE_LIGHT), shift)


def unknown_excitation(source: str | Light) -> float:
    """Return what a light may excite beyond `excitation`: as much as D50 below its table's begin.

    Zero where the table is long enough.
    """
    found = light(source)
    if found.unknown_excitation is not None:
        return found.unknown_excitation
    missing = _share_below(found.begins)
    return missing if missing > NEGLIGIBLE else 0.0


def excitation_passing(wavelengths: Array, transmittance: Array, below: float) -> float:
    """Return the share of D50's excitation below a wavelength, nm, that a filter lets through."""
    grid, curve = excitation_curve()
    part = _power(light(REFERENCE_LIGHT)) * curve * (grid < below)
    total = float(part.sum())
    return float(part @ np.interp(grid, wavelengths, transmittance)) / total if total else 0.0


def print_to_lab(
    spectra: Array,
    glow: Array | None,
    wavelengths: Array,
    source: str | Light,
    observer: str = "2",
    *,
    share: float = 1.0,
    excites: float | None = None,
) -> Array:
    """Return CIELAB of a print that glows under a light, against its white, shape (..., 3).

    Parameters
    ----------
    spectra, glow
        Shape (..., m): reflectance factors in M1, and β = M1 - M2 in them; None where not known.
    wavelengths
        Shape (m,), nm.
    share
        How much of the glow there is.
    excites
        How much the light excites the brightener, relative to D50; None takes `excitation`.
    """
    white = grid_white_point(wavelengths, source, observer)
    if glow is None:
        return xyz_to_lab(spectra_to_xyz(spectra, wavelengths, source, observer), white)
    excited = excitation(source) if excites is None else excites
    reflected = spectra_to_xyz(spectra - share * glow, wavelengths, source, observer)
    emitted = spectra_to_xyz(share * glow, wavelengths, REFERENCE_LIGHT, observer)
    return xyz_to_lab(reflected + excited * emitted, white)


def _excited(source: Light, shift: float = 0.0) -> float:
    grid, curve = excitation_curve()
    # Noise alone may sum to less than nothing.
    return max(float(at_wavelengths(source, grid + shift) / luminous_power(source) @ curve), 0.0)


def _share_below(wavelength: float) -> float:
    grid, curve = excitation_curve()
    excited = _power(light(REFERENCE_LIGHT)) * curve
    return float(excited[grid < wavelength].sum() / excited.sum())


def _power(source: Light) -> Array:
    """Return a light's power on the excitation curve's grid, scaled to luminance 1."""
    grid, _ = excitation_curve()
    return at_wavelengths(source, grid) / luminous_power(source)
