"""How individual observers' eyes differ: their cone fundamentals, drawn by a published model.

Asano, Fairchild and Blondé (2016, Individual colorimetric observer model, PLoS ONE 11(2), e0145671)
vary eight parts of the physiological observer of CIE 170-1:2006: the densities of lens, macular
pigment and the three photopigments, and the peaks of the three. The observer varied is the 10°
observer of CIE 170-2:2015. Absorbances and the macular pigment's spectrum are what makes its 10°
and 2° fundamentals two fields of one eye.
"""

from __future__ import annotations

from functools import lru_cache
from statistics import NormalDist

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.lights import Light
from greyscale.colorimetry.observers import NANOMETRES, colour_matching_functions
from greyscale.colorimetry.tristimulus import (
    WavelengthGrid,
    integration_weights,
    lagrange_coefficients,
)

COUNT = 200
"""How many individuals are drawn."""

AGES = (20.0, 70.0)
"""Ages of the individuals, years: all between are as likely."""

SPREADS = np.array([0.187, 0.365, 0.090, 0.090, 0.074, 2.0, 1.5, 1.3])
"""Standard deviations: of the densities of lens, macular pigment, L, M, S, as shares; of the peaks
of L, M, S in nm (Asano, Fairchild and Blondé 2016, as scaled to 75 observers; memory)."""

_AGE = 32.0  # Of the standard observer (CIE 170-1:2006).
# Densities of photopigments (L, M and S) and of macular pigment at their peaks, of fields of 10°
# and 2° (CIE 170-1:2006).
_PIGMENT_10, _PIGMENT_2 = np.array([0.38, 0.38, 0.30]), np.array([0.50, 0.50, 0.40])
_MACULA_10, _MACULA_2 = 0.095, 0.350
# Density of the lens at 32 years, from 390 nm on by 10 nm: what grows with age, and what does not
# (CIE 170-1:2006; rounded, as luxpy 1.12.5 tabulates it: the standard was not at hand).
_LENS = np.zeros((2, 28))
_LENS[0] = (
    0.8096, 0.6618, 0.5307, 0.4277, 0.3729, 0.3100, 0.2585, 0.2279, 0.2046, 0.1834, 0.1675, 0.1537,
    0.1378, 0.1230, 0.1102, 0.0986, 0.0859, 0.0742, 0.0615, 0.0488, 0.0381, 0.0297, 0.0223, 0.0170,
    0.0117, 0.0053, 0.0032, 0.0000,
)  # fmt: skip
_LENS[1, :7] = 1.6337, 1.1031, 0.6067, 0.2963, 0.1147, 0.0313, 0.0044
_TO_XYZ_10 = np.array(
    [[1.93986443, -1.34664359, 0.43044935], [0.69283932, 0.34967567, 0.0], [0.0, 0.0, 2.14687945]]
)
_TO_XYZ_2 = np.array(
    [[1.94735469, -1.41445123, 0.36476327], [0.68990272, 0.34832189, 0.0], [0.0, 0.0, 1.93485343]]
)
"""X, Y, Z from L, M, S, for fields of 10° and 2° (CIE 170-2:2015)."""

_CLEAR = slice(200, 281)  # From 560 to 640 nm the macular pigment absorbs nothing.
_ABSORBS = slice(30, 186)  # From 390 to 545 nm it does.
_ROUNDS = 12


def lens_density(age: ArrayLike) -> Array:
    """Compute the optical density of eyes' lenses at 1 nm, shape (..., 471), by age in years.

    CIE 170-1:2006, after Pokorny, Smith and Lutze (1987, Applied Optics 26, 1437-1440).
    """
    years = np.asarray(age, dtype=np.float64)[..., np.newaxis]
    older = np.where(years <= 60.0, 1.0 + 0.02 * (years - 32.0), 1.56 + 0.0667 * (years - 60.0))
    ageing, steady = (lagrange_coefficients(WavelengthGrid(390.0, 10.0, 28)) @ _LENS.T).T
    return np.asarray(older * ageing + steady)


def cone_fundamentals(field: int = 10) -> Array:
    """Compute L, M, S of the CIE's standard observer (170-2:2015), shape (471, 3), by energy."""
    to_xyz = _TO_XYZ_10 if field == 10 else _TO_XYZ_2
    functions = colour_matching_functions(f"2015-{field}") @ np.linalg.inv(to_xyz).T
    return np.asarray(np.maximum(functions, 0.0))


@lru_cache
def _eye() -> tuple[Array, Array]:
    """Absorbances of L, M, S, (471, 3), 1 at their peaks, and the macular pigment's (471,).

    What the lens lets through falls on the macular pigment, what that lets through on the cones;
    a cone catches 1 - 10^(-density · absorbance) of it (CIE 170-1:2006). Two fields make two
    equations for two unknown spectra; they are solved in turn.
    """
    quanta = 1.0 / NANOMETRES[:, np.newaxis]
    wide, narrow = cone_fundamentals(10) * quanta, cone_fundamentals(2) * quanta
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where((wide > 0) & (narrow > 0), np.log10(wide / narrow), 0.0)
    through = 10.0 ** lens_density(_AGE)[:, np.newaxis]
    macula = np.zeros(NANOMETRES.size)
    for _ in range(_ROUNDS):
        caught = wide * through * 10.0 ** (_MACULA_10 * macula[:, np.newaxis])
        caught *= (1.0 - 10.0**-_PIGMENT_10) / caught.max(axis=0)
        absorbance = -np.log10(1.0 - caught) / _PIGMENT_10
        narrower = 1.0 - 10.0 ** (-_PIGMENT_2[:2] * absorbance[:, :2])
        with np.errstate(divide="ignore", invalid="ignore"):
            screened = ratio[:, :2] - np.log10(caught[:, :2] / narrower)
        screened -= np.mean(screened[_CLEAR], axis=0)
        macula[_ABSORBS] = screened[_ABSORBS].mean(axis=1) / (_MACULA_2 - _MACULA_10)
    return absorbance, np.maximum(macula, 0.0)


def fundamentals_of(age: ArrayLike, deviations: ArrayLike) -> Array:
    """Compute the cone fundamentals of individuals, for a field of 10°, by energy.

    Parameters
    ----------
    age
        Shape (n,), years.
    deviations
        Shape (n, 8): of lens, macular pigment, L, M, S densities, as shares, and of the peaks of
        L, M, S in nm, as `SPREADS` has them.

    Returns
    -------
    Array of shape (n, 471, 3), on `NANOMETRES`; each as large at its peak as it happens to be.
    """
    absorbance, macula = _eye()
    off = np.asarray(deviations, dtype=np.float64)
    lens = lens_density(age) * (1.0 + off[:, :1])
    before = lens + _MACULA_10 * (1.0 + off[:, 1:2]) * macula
    # A pigment's spectrum keeps its shape over wavenumber, to be exact; over some nm, over
    # wavelength as well (Asano, Fairchild and Blondé 2016).
    cones = [
        np.stack([np.interp(NANOMETRES - shift, NANOMETRES, own) for shift in off[:, 5 + cone]])
        for cone, own in enumerate(absorbance.T)
    ]
    density = _PIGMENT_10 * (1.0 + off[:, 2:5])
    caught = 1.0 - 10.0 ** (-density[:, np.newaxis] * np.stack(cones, axis=-1))
    caught[:, : _ABSORBS.start] = 0.0  # As in the CIE's tables, which begin at 390 nm.
    return np.asarray(caught * (10.0**-before * NANOMETRES)[..., np.newaxis])


@lru_cache
def individuals() -> Array:
    """The cone fundamentals of `COUNT` individuals, shape (471, COUNT, 3), read-only.

    Always the same ones, spread evenly over all nine unknowns: multiples of powers of the number
    with x¹⁰ = x + 1, less their whole parts (a Kronecker sequence; Niederreiter 1992, Random number
    generation and quasi-Monte Carlo methods).
    """
    unknowns = 1 + SPREADS.size
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (unknowns + 1))
    steps = root ** -np.arange(1.0, unknowns + 1.0)
    even = (0.5 + np.arange(1.0, COUNT + 1.0)[:, np.newaxis] * steps) % 1.0
    ages = AGES[0] + (AGES[1] - AGES[0]) * even[:, 0]
    # SciPy has it too, but the import takes longer than all the rest.
    normal = np.vectorize(NormalDist().inv_cdf)(even[:, 1:])
    found = np.moveaxis(fundamentals_of(ages, SPREADS * normal), 0, 1).copy()
    found.setflags(write=False)
    return found


@lru_cache(maxsize=64)
def individual_weights(grid: WavelengthGrid, source: Light) -> Array:
    """The weights W for which XYZ = reflectance @ W, for each of the individuals.

    Each is adapted to the light: the perfect diffuser has the X, Y, Z that it has for the 10°
    observer of CIE 170-2:2015; the cones' answers are multiplied by what it takes (von Kries).

    Returns
    -------
    Array of shape (count, COUNT, 3), read-only.
    """
    power = source.power[:, np.newaxis]
    standard = integration_weights(grid, power * cone_fundamentals(10))
    white = standard.sum(axis=0)
    cones = (power[..., np.newaxis] * individuals()).reshape(NANOMETRES.size, -1)
    weights = integration_weights(grid, cones).reshape(grid.count, COUNT, 3)
    weights = weights * (white / weights.sum(axis=0)) @ _TO_XYZ_10.T
    weights *= 100.0 / (white @ _TO_XYZ_10.T)[1]
    weights.setflags(write=False)
    return np.asarray(weights)
