"""Which papers the simulated printer prints on: invented substrates, called by their kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.lights import Light, light
from greyscale.colorimetry.observers import colour_matching_functions


@dataclass(frozen=True)
class Paper:
    """A paper, and how ink sits on it.

    Attributes
    ----------
    name
        Its kind.
    reflectance
        Reflectance factors of the bare paper without UV (M2), at `KNOTS`.
    brightener
        Radiance factor that its brightener adds at the emission's peak under D50 (M1).
    surface
        Reflectance factor of the surface alone, which no ink can take away.
    saturation
        Density towards which the ink layer tends however much ink there is.
    yield_
        Density that the paper gives an ink, as a factor.
    yule_nielsen
        The Yule-Nielsen factor n of its optical dot gain.
    wet
        How much stronger the inks are on a fresh print, as a share, in the order of the inks.
    drying_hours
        Time constant of the dry-down, hours.
    """

    name: str
    reflectance: tuple[float, ...]
    brightener: float
    surface: float
    saturation: float
    yield_: float
    yule_nielsen: float
    wet: tuple[float, ...]
    drying_hours: float


KNOTS = (360, 380, 400, 420, 440, 460, 480, 500, 550, 600, 650, 700, 730)
"""Wavelengths at which papers are tabulated, nm."""

# Invented. Fibres without brightener absorb towards the blue: the older and the less bleached,
# the more. Titania and baryta coatings absorb below 400 nm only.
PAPERS: Mapping[str, Paper] = MappingProxyType(
    {
        paper.name: paper
        for paper in (
            Paper(
                "cotton rag",
                (.56, .68, .785, .838, .864, .880, .890, .897, .911, .919, .924, .928, .930),
                0.0, 0.0165, 2.6, 1.0, 2.0, (.055, .040, .040, .050, .050, .045), 0.9,
            ),
            Paper(
                "baryta",
                (.22, .46, .79, .880, .897, .903, .906, .909, .915, .919, .922, .925, .926),
                0.075, 0.0022, 3.2, 1.15, 1.7, (.075, .050, .045, .050, .060, .055), 2.4,
            ),
            Paper(
                "bamboo fibre",
                (.47, .59, .690, .752, .792, .820, .840, .855, .883, .900, .910, .916, .918),
                0.0, 0.0180, 2.5, 0.97, 2.1, (.060, .040, .045, .050, .055, .050), 1.1,
            ),
            Paper(
                "kozo",
                (.36, .46, .560, .636, .690, .730, .762, .788, .835, .866, .884, .895, .899),
                0.0, 0.0210, 2.3, 0.93, 2.4, (.065, .045, .050, .055, .060, .055), 1.6,
            ),
        )
    }
)  # fmt: skip
"""Every paper by its kind."""

# Excitation of a stilbene brightener, relative: broad, round 350 to 380 nm, next to nothing
# beyond 420 nm. Drawn from memory of the usual shape, not measured.
EXCITATION_NM = tuple(range(300, 440, 10))
EXCITATION = (.30, .38, .50, .64, .80, .93, 1.0, .99, .88, .66, .38, .15, .04, .0)  # fmt: skip

# Emission as a radiance factor under D50, relative to its peak: 440 nm with a long red tail.
_EMISSION_PEAK, _EMISSION_BELOW, _EMISSION_ABOVE = 440.0, 17.0, 36.0

_CONDITION_LIGHT = {"M0": "A", "M1": "D50"}


def paper_reflectance(paper: Paper, wavelengths: ArrayLike) -> Array:
    """Give the reflectance factors of bare paper without UV, shape (m,); wavelengths in nm."""
    from scipy.interpolate import PchipInterpolator

    nm = np.asarray(wavelengths, dtype=np.float64)
    return np.asarray(PchipInterpolator(KNOTS, paper.reflectance)(nm))


def emission(wavelengths: ArrayLike) -> Array:
    """Give the brightener's emission as a radiance factor under D50, peak 1, shape (m,)."""
    nm = np.asarray(wavelengths, dtype=np.float64)
    width = np.where(nm < _EMISSION_PEAK, _EMISSION_BELOW, _EMISSION_ABOVE)
    return np.asarray(np.exp(-0.5 * ((nm - _EMISSION_PEAK) / width) ** 2))


def _scaled(source: Light, wavelengths: Array) -> Array:
    """Give a light's power at some wavelengths, scaled to luminance 1."""
    luminance = source.power @ colour_matching_functions("2")[:, 1]
    return np.interp(wavelengths, source.wavelengths, source.measured) / luminance


@lru_cache
def excited(condition: str, start: float, stop: float, step: float) -> Array:
    """Give emission as radiance factor in a measuring condition, relative to M1's peak.

    β_t(λ) = β(λ) · S_D50(λ) / S_t(λ) · U_t / U_D50, with U the light's power weighted by the
    excitation, lights scaled to equal luminance. M1 is D50, M0 an incandescent lamp
    (illuminant A), M2 has no UV (ISO 13655:2017).

    Returns
    -------
    Array of shape (m,), read-only.
    """
    wavelengths = np.arange(start, stop + step / 2, step)
    if condition == "M2":
        result = np.zeros_like(wavelengths)
    elif condition in _CONDITION_LIGHT:
        own, standard = light(_CONDITION_LIGHT[condition]), light("D50")
        uv = np.asarray(EXCITATION_NM, dtype=np.float64)
        excitation = np.asarray(EXCITATION)
        gain = (_scaled(own, uv) @ excitation) / (_scaled(standard, uv) @ excitation)
        seen = _scaled(standard, wavelengths) / _scaled(own, wavelengths)
        result = emission(wavelengths) * seen * gain
    else:
        raise ValueError(f"the simulated instrument knows M0, M1 and M2, not '{condition}'")
    result.setflags(write=False)
    return result
