"""What a light is like: colour temperature, colour rendering, ultraviolet."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.fluorescence import excitation_passing, unknown_excitation
from greyscale.colorimetry.lights import Light, at_wavelengths, luminous_power
from greyscale.colorimetry.observers import NANOMETRES
from greyscale.colorimetry.tristimulus import white_point

ULTRAVIOLET = (315.0, 400.0)
"""UV-A, nm, as museum meters weigh it: the ultraviolet per lumen."""

MAXIMUM_EFFICACY = 683.0
"""Lumens per watt at 555 nm (SI definition of the candela; 683.002 for V(λ)'s peak in air)."""

FARTHEST_DUV = 0.05
"""Beyond this distance from the Planckian locus a colour temperature means nothing (CIE 15)."""


@dataclass(frozen=True)
class LightQuality:
    """A light in numbers.

    Attributes
    ----------
    name
        The light's name.
    correlated_colour_temperature, duv
        In kelvin, and signed distance from the Planckian locus in u, v (CIE 1960; positive is
        greenish), by Ohno (2013). None where the light is too far from the locus.
    colour_rendering_index
        Ra of CIE 13.3-1995; None as above.
    colour_fidelity_index
        Rf of CIE 224:2017; None as above.
    ultraviolet
        Microwatts of UV-A (315 to 400 nm) per lumen; None if no part of it is known.
    ultraviolet_from
        Wavelength, nm, from which the light's ultraviolet is known. Above 315 nm the figure is
        a floor.
    ultraviolet_noise
        Half of the range in which it lies with 95 %, by the noise of its measurement, where that
        is known; in the same unit.
    """

    name: str
    correlated_colour_temperature: float | None
    duv: float | None
    colour_rendering_index: float | None
    colour_fidelity_index: float | None
    ultraviolet: float | None
    ultraviolet_from: float
    ultraviolet_noise: float = 0.0


def light_quality(source: Light) -> LightQuality:
    """Describe a light; the indices are computed by `colour`."""
    import colour

    X, Y, Z = white_point(source)
    u, v = 4 * X / (X + 15 * Y + 3 * Z), 6 * Y / (X + 15 * Y + 3 * Z)
    temperature, duv = colour.temperature.uv_to_CCT_Ohno2013([u, v])
    ultraviolet, known_from = ultraviolet_per_lumen(source)
    noise = ultraviolet_noise(source)
    if not 1000 <= temperature <= 100_000 or abs(duv) > FARTHEST_DUV:
        return LightQuality(source.name, None, None, None, None, ultraviolet, known_from, noise)
    # `colour` tabulates the indices' samples from 380 to 780 nm.
    within = (NANOMETRES >= 380) & (NANOMETRES <= 780)
    table = colour.SpectralDistribution(source.power[within], NANOMETRES[within])
    # It says on standard error that it aligns its own tables; a person need not know.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", colour.utilities.ColourRuntimeWarning)
        rendering = float(colour.colour_rendering_index(table))
        fidelity = float(colour.colour_fidelity_index(table, method="CIE 2017"))
    return LightQuality(
        source.name,
        float(temperature),
        float(duv),
        rendering,
        fidelity,
        ultraviolet,
        known_from,
        noise,
    )


def ultraviolet_per_lumen(source: Light) -> tuple[float | None, float]:
    """Return a light's UV-A in microwatts per lumen, and from which wavelength it is known.

    Negative power, which is noise, is summed too; of a negative sum 0 is said. Where it is not
    wholly known, it is a floor, also for what the light has between the wavelengths of its table.

    Examples
    --------
    >>> from greyscale.colorimetry.lights import series_light
    >>> 60 < ultraviolet_per_lumen(series_light("blackbody-2856K"))[0] < 90
    True
    """
    if source.begins >= ULTRAVIOLET[1]:
        return None, source.begins
    grid = np.arange(ULTRAVIOLET[0], ULTRAVIOLET[1] + 1)
    known_whole = source.begins <= ULTRAVIOLET[0]
    power = at_wavelengths(source, grid) if known_whole else _at_least(source, grid)
    watts = float(np.trapezoid(power, grid))
    return max(watts * _per_lumen(source), 0.0), max(source.begins, ULTRAVIOLET[0])


def _at_least(source: Light, grid: Array) -> Array:
    """A light's power between the wavelengths of its table, by straight lines of its logarithm.

    The flank of a band, as a Gaussian's, runs above these; lines of the power itself may run above
    the flank.
    """
    nm, measured = source.wavelengths, source.measured
    logarithm = np.log(np.where(measured > 0, measured, np.nan))
    linear = at_wavelengths(source, grid)
    return np.fmin(linear, np.exp(np.interp(grid, nm, logarithm, left=np.nan)))


def ultraviolet_noise(source: Light) -> float:
    """Return how far noise may have moved `ultraviolet_per_lumen`, with 95 %; 0 if not known."""
    width = max(ULTRAVIOLET[1] - max(source.begins, ULTRAVIOLET[0]), 0.0)
    return 2 * source.noise * float(np.sqrt(width)) * _per_lumen(source)


def _per_lumen(source: Light) -> float:
    """Microwatts per lumen that a light has in 1 nm, where its power is 1."""
    return 1e6 / (MAXIMUM_EFFICACY * luminous_power(source))


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
