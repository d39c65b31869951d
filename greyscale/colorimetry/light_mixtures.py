"""Which light is left when lights are mixed, or pass through glass."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.lights import Light
from greyscale.colorimetry.observers import NANOMETRES, colour_matching_functions


def luminous_power(source: Light) -> float:
    """Give the sum of a light's power times V(λ): what an illuminance meter answers to."""
    return float(source.power @ colour_matching_functions("2")[:, 1])


def mix(parts: Sequence[tuple[float, Light]]) -> Light:
    """Mix lights by their shares of the illuminance, as an illuminance meter reads them.

    Parameters
    ----------
    parts
        Share (any positive scale) and light.

    Returns
    -------
    A light whose table starts where the last of the parts' tables starts: below that its
    ultraviolet is not known.

    Raises
    ------
    ValueError
        Without parts, or with a share that is not positive.
    """
    shares = np.array([share for share, _ in parts], dtype=np.float64)
    if shares.size == 0 or np.any(shares <= 0) or not np.all(np.isfinite(shares)):
        raise ValueError("the shares of a mixture must be positive numbers")
    shares = shares / shares.sum()
    start = max(float(source.wavelengths[0]) for _, source in parts)
    grid = np.arange(np.ceil(start), NANOMETRES[-1] + 1)
    measured = np.zeros(grid.size)
    power = np.zeros(NANOMETRES.size)
    for share, (_, source) in zip(shares, parts, strict=True):
        gain = share / luminous_power(source)
        power += gain * source.power
        measured += gain * at_wavelengths(source, grid)
    name = "+".join(
        f"{100 * share:.3g}%{source.name}" for share, (_, source) in zip(shares, parts, strict=True)
    )
    remarks = tuple(dict.fromkeys(line for _, source in parts for line in source.remarks))
    return Light(name, power, grid, measured, remarks)


def at_wavelengths(source: Light, wavelengths: Array) -> Array:
    """Give a light's power at wavelengths, nm: from 360 nm up as it is used, below from its table.

    Returns
    -------
    Array of the shape of `wavelengths`; zero where the table has no value.
    """
    below = np.interp(wavelengths, source.wavelengths, source.measured, left=0.0, right=0.0)
    within = np.interp(wavelengths, NANOMETRES, source.power)
    return np.where(wavelengths >= NANOMETRES[0], within, below)


def filtered(source: Light, wavelengths: Array, transmittance: Array, suffix: str) -> Light:
    """Give the light behind a glass or a filter.

    Parameters
    ----------
    wavelengths, transmittance
        The filter's table: nm, rising, and transmittance from 0 to 1; beyond its ends the end
        values hold.
    suffix
        What to append to the light's name.
    """
    power = source.power * np.interp(NANOMETRES, wavelengths, transmittance)
    grid = source.wavelengths
    if grid[0] < NANOMETRES[0]:
        grid = np.arange(np.ceil(grid[0]), NANOMETRES[-1] + 1)
    measured = at_wavelengths(source, grid) * np.interp(grid, wavelengths, transmittance)
    return Light(f"{source.name} {suffix}", power, grid, measured, source.remarks)
