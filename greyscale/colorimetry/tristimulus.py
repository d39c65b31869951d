"""How spectra become X, Y, Z: weighting factors, once per grid, light and observer."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.lights import Light, light
from greyscale.colorimetry.observers import NANOMETRES, colour_matching_functions


@dataclass(frozen=True)
class WavelengthGrid:
    """Equally spaced wavelengths: where they start, their step (both nm), how many there are."""

    start: float
    step: float
    count: int

    @classmethod
    def of(cls, wavelengths: ArrayLike) -> WavelengthGrid:
        """Recognise the grid of some wavelengths.

        Raises
        ------
        ValueError
            If there are fewer than three, or they are not equally spaced.

        Examples
        --------
        >>> WavelengthGrid.of([400, 410, 420])
        WavelengthGrid(start=400.0, step=10.0, count=3)
        """
        return _grid_of(np.asarray(wavelengths, dtype=np.float64).tobytes())

    @property
    def wavelengths(self) -> Array:
        """The wavelengths, shape (count,), nm."""
        return np.asarray(self.start + self.step * np.arange(self.count), dtype=np.float64)


@lru_cache(maxsize=256)
def _grid_of(wavelengths: bytes) -> WavelengthGrid:
    values = np.frombuffer(wavelengths)
    if values.size < 3:
        raise ValueError("a spectrum needs at least three wavelengths")
    step = float(values[-1] - values[0]) / (values.size - 1)
    even = values[0] + step * np.arange(values.size)
    # Spectrometers with a step of 10/3 nm state their wavelengths rounded to 0.1 nm.
    if step <= 0 or np.max(np.abs(values - even)) > 0.1:
        raise ValueError("the wavelengths are not equally spaced")
    return WavelengthGrid(float(values[0]), round(step, 6), values.size)


@lru_cache(maxsize=64)
def lagrange_coefficients(grid: WavelengthGrid) -> Array:
    """Return the matrix that interpolates values on a grid to 1 nm.

    Third-degree Lagrange polynomials through the two samples on each side; second degree in
    the first and last interval (ASTM E2022). Zero outside the grid.

    Parameters
    ----------
    grid
        Shape (count,).

    Returns
    -------
    Array of shape (471, count), read-only: values at `NANOMETRES` = matrix @ values on the grid.
    """
    matrix = np.zeros((NANOMETRES.size, grid.count))
    position = (NANOMETRES - grid.start) / grid.step
    inside = np.flatnonzero((position >= -1e-9) & (position <= grid.count - 1 + 1e-9))
    left = np.clip(np.floor(position[inside]).astype(int), 0, grid.count - 2)
    beside = np.arange(-1, 3)
    nodes = left[:, np.newaxis] + beside
    there = (nodes >= 0) & (nodes < grid.count)
    for column, own in enumerate(beside):
        factors = (position[inside, np.newaxis] - nodes) / np.where(beside == own, 1, own - beside)
        product = np.where(there & (beside != own), factors, 1.0).prod(axis=1)
        rows = there[:, column]
        matrix[inside[rows], nodes[rows, column]] = product[rows]
    matrix.setflags(write=False)
    return matrix


def _covering(grid: WavelengthGrid) -> tuple[WavelengthGrid, int]:
    """Extend a grid, in its own step, over 360 to 830 nm; say at which index it then starts."""
    before = max(0, int(np.ceil((grid.start - NANOMETRES[0]) / grid.step)))
    end = grid.start + grid.step * (grid.count - 1)
    after = max(0, int(np.ceil((NANOMETRES[-1] - end) / grid.step)))
    start = grid.start - before * grid.step
    return WavelengthGrid(start, grid.step, before + grid.count + after), before


def integration_weights(grid: WavelengthGrid, functions: Array) -> Array:
    """Return the weights that integrate spectra on a grid against functions at 1 nm.

    Weights for an interpolated spectrum (ASTM E2022); on grids of 1 nm or 5 nm that meet whole
    wavelengths the tabulated functions are summed as they stand (CIE 15:2018, 7.2). The weights
    of wavelengths that were not measured are added to the first and the last measured one
    (ASTM E308, 7.3.2.2).

    Parameters
    ----------
    grid
        The spectra's wavelengths.
    functions
        Shape (471, k), on `NANOMETRES`; for tristimulus values, light times observer.

    Returns
    -------
    Array of shape (count, k).
    """
    whole, first = _covering(grid)
    on_whole_nanometres = float(grid.start).is_integer() and grid.step in (1.0, 5.0)
    if on_whole_nanometres:
        weights = np.zeros((whole.count, functions.shape[1]))
        index = np.round(whole.wavelengths - NANOMETRES[0]).astype(int)
        known = (index >= 0) & (index < NANOMETRES.size)
        weights[known] = functions[index[known]] * grid.step
    else:
        weights = lagrange_coefficients(whole).T @ functions
    last = first + grid.count - 1
    folded = weights[first : last + 1].copy()
    folded[0] += weights[:first].sum(axis=0)
    folded[-1] += weights[last + 1 :].sum(axis=0)
    return folded


@lru_cache(maxsize=512)
def tristimulus_weights(
    grid: WavelengthGrid, source: str | Light = "D50", observer: str = "2"
) -> Array:
    """Return the weights W for which XYZ = reflectance @ W; cached.

    Returns
    -------
    Array of shape (count, 3), read-only; Y of the perfect diffuser is 100.
    """
    functions = light(source).power[:, np.newaxis] * colour_matching_functions(observer)
    weights = integration_weights(grid, functions)
    weights *= 100.0 / weights[:, 1].sum()
    weights.setflags(write=False)
    return weights


@lru_cache(maxsize=512)
def white_point(source: str | Light = "D50", observer: str = "2") -> Array:
    """Return X, Y, Z of the perfect diffuser under a light, from sums at 1 nm.

    Returns
    -------
    Array of shape (3,), Y = 100.

    Examples
    --------
    >>> white_point("D50").round(2).tolist()
    [96.42, 100.0, 82.51]
    """
    functions = light(source).power @ colour_matching_functions(observer)
    white = np.asarray(100.0 * functions / functions[1])
    white.setflags(write=False)
    return white


def grid_white_point(
    wavelengths: ArrayLike, source: str | Light = "D50", observer: str = "2"
) -> Array:
    """Return X, Y, Z of the perfect diffuser as spectra on these wavelengths see it.

    A flat spectrum is exactly neutral only against the white of its own weights.
    """
    weights = tristimulus_weights(WavelengthGrid.of(wavelengths), source, observer)
    return np.asarray(weights.sum(axis=0))


def spectra_to_xyz(
    spectra: ArrayLike,
    wavelengths: ArrayLike,
    source: str | Light = "D50",
    observer: str = "2",
) -> Array:
    """Turn reflectance factors into tristimulus values: one matrix product.

    Parameters
    ----------
    spectra
        Shape (..., count), 1 = perfect diffuser.
    wavelengths
        Shape (count,), equally spaced, nm.
    source
        The light, by name or as it is.
    observer
        A name of `greyscale.colorimetry.observers.OBSERVERS`.

    Returns
    -------
    Array of shape (..., 3); Y = 100 for the perfect diffuser.

    Examples
    --------
    >>> spectra_to_xyz([0.5] * 31, range(400, 701, 10), "A").round(1).tolist()
    [54.9, 50.0, 17.8]
    """
    weights = tristimulus_weights(WavelengthGrid.of(wavelengths), source, observer)
    return np.asarray(np.asarray(spectra, dtype=np.float64) @ weights)
