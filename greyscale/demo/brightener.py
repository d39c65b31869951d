"""What a paper's brightener adds to a spectrum, by the light of the measuring condition."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.lights import Light, light
from greyscale.colorimetry.observers import colour_matching_functions

# fmt: off
# Excitation of a stilbene brightener, relative: broad around 350 to 380 nm, next to nothing
# beyond 420 nm. Drawn from memory of the usual shape, not measured.
EXCITATION_NM = np.arange(300.0, 440.0, 10.0)
EXCITATION = np.array(
    [.30, .38, .50, .64, .80, .93, 1.0, .99, .88, .66, .38, .15, .04, .0]
)
# fmt: on

# Emission as a radiance factor under D50: peak at 440 nm, long tail towards green. Invented.
_PEAK, _BELOW, _ABOVE = 440.0, 17.0, 36.0

CONDITION_LIGHTS = {"M0": "A", "M1": "D50", "M2": None}
"""The light of each measuring condition (ISO 13655:2017); M2 leaves out what excites."""


def emission(wavelengths: ArrayLike) -> Array:
    """Give the emission as a radiance factor under D50, its peak 1, shape (m,)."""
    nm = np.asarray(wavelengths, dtype=np.float64)
    width = np.where(nm < _PEAK, _BELOW, _ABOVE)
    return np.asarray(np.exp(-0.5 * ((nm - _PEAK) / width) ** 2))


def glow(wavelengths: ArrayLike, condition: str) -> Array:
    """Give the emission as a radiance factor in a measuring condition, relative to M1's peak.

    β_t(λ) = β(λ) · S_D50(λ) / S_t(λ) · U_t / U_D50, with U the light's power weighted by the
    excitation, and lights scaled to equal luminance.

    Parameters
    ----------
    wavelengths
        Shape (m,), nm.
    condition
        "M0", "M1" or "M2".

    Returns
    -------
    Array of shape (m,).

    Raises
    ------
    ValueError
        For a condition that the simulated instrument has not.
    """
    if condition not in CONDITION_LIGHTS:
        known = ", ".join(CONDITION_LIGHTS)
        raise ValueError(f"the simulated instrument knows {known}, not '{condition}'")
    nm = np.asarray(wavelengths, dtype=np.float64)
    name = CONDITION_LIGHTS[condition]
    if name is None:
        return np.zeros_like(nm)
    own, standard = light(name), light("D50")
    excited = _power(own, EXCITATION_NM) @ EXCITATION
    excited_standard = _power(standard, EXCITATION_NM) @ EXCITATION
    seen = _power(standard, nm) / _power(own, nm)
    return np.asarray(emission(nm) * seen * (excited / excited_standard))


def _power(source: Light, wavelengths: Array) -> Array:
    """Give a light's power at some wavelengths, scaled to luminance 1."""
    luminance = source.power @ colour_matching_functions("2")[:, 1]
    power = np.interp(wavelengths, source.wavelengths, source.measured)
    return np.asarray(power / luminance)
