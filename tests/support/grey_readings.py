"""Readings made in memory, for the tests of what is found in them."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.readings.reading import Reading

WAVELENGTHS = np.arange(380.0, 731.0, 10.0)
L_BLACK, L_PAPER = 16.0, 95.0


def reading_of(level, lab=None, spectra=None, wavelengths=WAVELENGTHS, **facts) -> Reading:
    """Make a reading of a ramp: CIELAB, or spectra from which CIELAB follows."""
    level = np.asarray(level, dtype=float)
    if lab is None:
        lab = spectra_to_lab(spectra, wavelengths)
    return Reading(
        name=facts.pop("name", "cotton rag"),
        source=facts.pop("source", "cotton-rag.txt"),
        ids=facts.pop("ids", tuple(f"G{i + 1}" for i in range(level.size))),
        device=np.repeat(level[:, np.newaxis], 3, axis=1),
        lab=np.asarray(lab, dtype=float),
        spectra=None if spectra is None else np.asarray(spectra, dtype=float),
        wavelengths=None if spectra is None else wavelengths,
        condition=facts.pop("condition", "M1"),
        **facts,
    )


def ramp_lab(level, a=0.0, b=0.0):
    """Give CIELAB of an L*-linear ramp with a*, b* on its tones; paper and black are neutral."""
    level = np.asarray(level, dtype=float)
    L = L_BLACK + (L_PAPER - L_BLACK) * level
    inner = (level > 0) & (level < 1)
    return np.stack([L, np.where(inner, a, 0.0), np.where(inner, b, 0.0)], axis=-1)


def grey_spectra(level, wavelengths=WAVELENGTHS):
    """Give spectrally flat reflectance factors, from 0.021 to 0.88."""
    level = np.asarray(level, dtype=float)
    return np.repeat((0.021 + 0.859 * level**2.2)[:, np.newaxis], wavelengths.size, axis=1)
