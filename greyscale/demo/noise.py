"""What the simulated instrument adds to a spectrum: smooth, seeded noise of a stated size."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.tristimulus import (
    WavelengthGrid,
    grid_white_point,
    tristimulus_weights,
)

_BAND_SHARE = 0.15  # Noise of single wavelengths, which averages out, beside the smooth part.


def add_noise(spectra: Array, wavelengths: Array, sd: float, seed: int) -> Array:
    """Add noise whose L*, a* and b* under D50 each have the standard deviation `sd`.

    An instrument's noise is mostly smooth: its level, slope and bend change from patch to
    patch. Three smooth curves are mixed so that CIELAB moves by a drawn amount (to first order).

    Parameters
    ----------
    spectra
        Shape (n, m), reflectance factors.
    wavelengths
        Shape (m,), nm.
    sd
        Standard deviation of each of L*, a*, b*.

    Returns
    -------
    Array of shape (n, m), nowhere below 0.
    """
    if sd == 0.0:
        return spectra
    random = np.random.default_rng(seed)
    x = (wavelengths - 550.0) / 130.0
    shapes = np.stack([np.ones_like(x), np.tanh(x), np.exp(-((x / 0.45) ** 2))])
    lab_error = random.normal(0.0, sd, (spectra.shape[0], 3))
    mixture = np.linalg.solve(_lab_response(spectra, wavelengths, shapes), lab_error[..., None])
    smooth = mixture[..., 0] @ shapes
    # One part in a thousand of the reflectance is about 0.04 L*.
    single = random.normal(0.0, _BAND_SHARE * sd * 0.025, spectra.shape)
    return np.asarray(np.maximum(spectra * (1.0 + smooth + single), 0.0))


def _lab_response(spectra: Array, wavelengths: Array, shapes: Array) -> Array:
    """Give d(L*, a*, b*) by relative change of the spectrum in each shape: (n, 3, k)."""
    weights = tristimulus_weights(WavelengthGrid.of(wavelengths))
    white = grid_white_point(wavelengths)
    relative = spectra @ weights / white
    threshold = (6 / 29) ** 3
    slope = np.where(
        relative > threshold,
        np.maximum(relative, threshold) ** (-2 / 3) / 3,
        (29 / 6) ** 2 / 3,
    )
    moved = np.einsum("nm,km,mc->nck", spectra, shapes, weights / white, optimize=True)
    f = slope[..., None] * moved
    return np.stack([116 * f[:, 1], 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)
