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
    RANGES,
    REFERENCE_LIGHT,
    Light,
    at_wavelengths,
    daylight_chromaticity,
    light,
    luminous_power,
    series_light,
)
from greyscale.colorimetry.tristimulus import grid_white_point, spectra_to_xyz, white_point

EMISSION_PEAK = 440.0
"""Where brighteners emit most, nm."""

NEGLIGIBLE = 0.01
"""A table that lacks less than this share of D50's excitation counts as whole."""


@lru_cache(maxsize=1)
def excitation_curve() -> tuple[Array, Array]:
    """Return the excitation curve of brighteners at 1 nm: wavelengths, nm, and relative value."""
    file = resources.files("greyscale.colorimetry") / "data" / "brightener-excitation.csv"
    text = file.read_text(encoding="utf-8")
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


SHIFTS, WIDTHS = (-8.0, 0.0, 8.0), (0.6, 1.0, 1.2)
"""Excitation curves of brighteners lie up to so many nm to either side of the one here, and are so
many times as wide about its peak: little brightener and coatings that absorb ultraviolet make them
narrow, much of it wide (memory of the usual spread on papers, not measured)."""

EXCITATION_PEAK = 362.0
"""Where the excitation curve is highest, nm."""


def credible_excitation(source: str | Light) -> tuple[float, float]:
    """Return the least and the most that a light may excite brighteners, relative to D50.

    The excitation curve may lie elsewhere and be narrower or wider (`SHIFTS`, `WIDTHS`), and what
    is not known of the light may be there or not.
    """
    curves = [(shift, width) for shift in SHIFTS for width in WIDTHS]
    known = [excitation(source, *curve) for curve in curves]
    unknown = [unknown_excitation(source, *curve) for curve in curves]
    return min(known), max(map(sum, zip(known, unknown, strict=True)))


def excitation(source: str | Light, shift: float = 0.0, width: float = 1.0) -> float:
    """Return how much a light excites brighteners, by what is known of it, relative to D50.

    Both at equal luminance. What lies below the light's table counts as nothing. The excitation
    curve may be shifted by some nm, and be some times as wide.

    Examples
    --------
    >>> excitation("D50"), 0.2 < excitation("A") < 0.4
    (1.0, True)
    """
    reference = light(REFERENCE_LIGHT)
    return _excited(light(source), shift, width) / _excited(reference, shift, width)


def unknown_excitation(source: str | Light, shift: float = 0.0, width: float = 1.0) -> float:
    """Return what a light may excite beyond `excitation`, below its table's begin.

    As much as D50 does there; where the table shows daylight, what daylight of its temperature
    does, if that is more. Zero where the table is long enough.
    """
    found = light(source)
    if found.unknown_excitation is not None:
        return found.unknown_excitation
    reference = light(REFERENCE_LIGHT)
    whole = _excited(reference, shift, width)
    missing = _excited(reference, shift, width, found.begins) / whole
    if missing <= NEGLIGIBLE:
        return 0.0
    daylight = _daylight_like(found)
    if daylight is None:
        return missing
    return max(missing, _excited(daylight, shift, width, found.begins) / whole)


_DAYLIGHT_DUV, _DAYLIGHT_SHARE, _DAYLIGHT_OVER, _DAYLIGHT_BEGINS = 0.01, 0.5, 20.0, 410.0
"""A table shows daylight that begins at no more than so many nm, whose white lies so near in u, v
(CIE 1960) to one of the daylight series, and which has this share of that one's power over its
first 20 nm: fluorescent tubes and LEDs have next to nothing there (common practice, no source)."""


@lru_cache(maxsize=64)
def _daylight_like(source: Light) -> Light | None:
    """The daylight of a light's colour temperature, where its table shows daylight."""
    if source.begins > _DAYLIGHT_BEGINS:
        return None
    X, Y, Z = white_point(source)
    temperatures = np.geomspace(*RANGES["daylight"], 100)
    x, y = np.array([daylight_chromaticity(one) for one in temperatures]).T
    there = np.stack([4 * x, 6 * y]) / (12 * y - 2 * x + 3)
    here = np.array([[4 * X], [6 * Y]]) / (X + 15 * Y + 3 * Z)
    distance = np.hypot(*(there - here))
    nearest = int(np.argmin(distance))
    daylight = series_light(f"daylight-{temperatures[nearest]:.0f}K")
    if daylight is None or distance[nearest] > _DAYLIGHT_DUV:
        return None
    shown = source.begins + np.arange(_DAYLIGHT_OVER)
    own, whole = (
        float(at_wavelengths(one, shown).sum()) / luminous_power(one) for one in (source, daylight)
    )
    return daylight if own >= _DAYLIGHT_SHARE * whole else None


def excitation_passing(wavelengths: Array, transmittance: Array, below: float) -> float:
    """Return the share of D50's excitation below a wavelength, nm, that a filter lets through."""
    grid, _ = excitation_curve()
    reference = light(REFERENCE_LIGHT)
    total = _excited(reference, below=below)
    passes = np.interp(grid, wavelengths, transmittance)
    return _excited(reference, below=below, passes=passes) / total if total else 0.0


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


def _excited(
    source: Light,
    shift: float = 0.0,
    width: float = 1.0,
    below: float = np.inf,
    passes: Array | float = 1.0,
) -> float:
    """How much a light excites, by what it has below a wavelength, nm, and a filter lets pass."""
    grid, curve = excitation_curve()
    at = EXCITATION_PEAK + shift + width * (grid - EXCITATION_PEAK)
    power = at_wavelengths(source, at) / luminous_power(source) * (at < below) * passes
    # Noise alone may sum to less than nothing.
    return max(float(power @ curve), 0.0)
