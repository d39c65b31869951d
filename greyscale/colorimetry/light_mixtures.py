"""Which light is left when lights are mixed, or pass through glass."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.fluorescence import excitation_passing, unknown_excitation
from greyscale.colorimetry.light_quality import ULTRAVIOLET
from greyscale.colorimetry.lights import Light, at_wavelengths, luminous_power
from greyscale.colorimetry.observers import NANOMETRES


def mix(parts: Sequence[tuple[float, Light]]) -> Light:
    """Mix lights by their shares of the illuminance, as an illuminance meter reads them.

    Parameters
    ----------
    parts
        Share (any positive scale) and light.

    Returns
    -------
    A light whose table begins with the longest of the parts'; what is not known of one part
    counts as nothing there, and `known_from` says so.

    Raises
    ------
    ValueError
        Without parts, or with a share that is not positive.
    """
    shares = np.array([share for share, _ in parts], dtype=np.float64)
    if shares.size == 0 or np.any(shares <= 0) or not np.all(np.isfinite(shares)):
        raise ValueError("the shares of a mixture must be positive numbers")
    shares = shares / shares.sum()
    start = min(float(source.wavelengths[0]) for _, source in parts)
    grid = np.arange(np.ceil(start), NANOMETRES[-1] + 1)
    measured = np.zeros(grid.size)
    power = np.zeros(NANOMETRES.size)
    unknown, variance = 0.0, 0.0
    for share, (_, source) in zip(shares, parts, strict=True):
        gain = share / luminous_power(source)
        power += gain * source.power
        measured += gain * at_wavelengths(source, grid)
        unknown += share * unknown_excitation(source)
        variance += (gain * source.noise) ** 2
    name = "+".join(
        f"{100 * share:.3g}%{source.name}" for share, (_, source) in zip(shares, parts, strict=True)
    )
    remarks = tuple(dict.fromkeys(line for _, source in parts for line in source.remarks))
    known_from = max(source.begins for _, source in parts)
    rests_on = tuple(dict.fromkeys(key for _, source in parts for key in source.rests_on))
    return Light(
        name, power, grid, measured, remarks, known_from, unknown, rests_on, noise=variance**0.5
    )


def filtered(
    source: Light,
    wavelengths: Array,
    transmittance: Array,
    suffix: str,
    rests_on: str = "glazing-file",
) -> Light:
    """Return the light behind a glass or a filter.

    Parameters
    ----------
    wavelengths, transmittance
        The filter's table: nm, rising, and transmittance from 0 to 1; beyond its ends the end
        values hold.
    suffix
        What to append to the light's name.
    rests_on
        Key of what the transmittance rests on.
    """
    power = source.power * np.interp(NANOMETRES, wavelengths, transmittance)
    # A filter may be steeper than the table's steps.
    grid = np.arange(np.ceil(source.wavelengths[0]), NANOMETRES[-1] + 1)
    measured = at_wavelengths(source, grid) * np.interp(grid, wavelengths, transmittance)
    ultraviolet = np.interp(np.linspace(*ULTRAVIOLET, 86), wavelengths, transmittance)
    # What is not known of the lamp passes the glass as D50's would.
    passes = excitation_passing(wavelengths, transmittance, source.begins)
    return Light(
        f"{source.name} {suffix}",
        power,
        grid,
        measured,
        source.remarks,
        source.known_from,
        unknown_excitation(source) * passes,
        (*source.rests_on, rests_on),
        noise=source.noise * float(np.sqrt(np.mean(ultraviolet**2))),
    )
