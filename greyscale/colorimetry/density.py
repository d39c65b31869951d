"""How dense a print is to the eye: ISO 5-3:2009 visual density."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import luminance
from greyscale.colorimetry.lights import cie_illuminant
from greyscale.colorimetry.observers import colour_matching_functions
from greyscale.colorimetry.tristimulus import WavelengthGrid, integration_weights

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
