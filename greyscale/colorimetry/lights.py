"""Which spectral power distribution a light has, by its name."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import takewhile

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.observers import (
    NANOMETRES,
    colour_matching_functions,
    daylight_components,
    illuminant_tables,
)

REFERENCE_LIGHT = "D50"
"""The light that print colorimetry is stated for: M1 of ISO 13655:2017."""

REQUIRED_LIGHTS = (REFERENCE_LIGHT, "A", "F11")
"""The lights that every analysis looks at."""


class UnknownLight(LookupError):
    """A light that no table holds; the message names the nearest known ones."""


@dataclass(frozen=True, eq=False)
class Light:
    """A light: an illuminant or a measured lamp.

    Attributes
    ----------
    name
        What it is called in results.
    power
        Relative spectral power, shape (471,), on the 1 nm grid `NANOMETRES`; for sums, see
        `interpolate_power`.
    wavelengths, measured
        The table that `power` was made from: wavelengths in nm, relative power, in the same unit;
        it may reach below 360 nm, where brighteners are excited.
    remarks
        What its reader decided or found wanting, as sentences to be shown.
    known_from
        The wavelength, nm, from which all of the light is known; None: where the table begins.
    unknown_excitation
        How much it may excite brighteners by what is not known of it, relative to D50; None: as
        much as is supposed below the table's begin (see `greyscale.colorimetry.fluorescence`).
    rests_on
        Keys of `greyscale.base.rests_on.REGISTER`: where its table comes from.
    credible
        The same light as it may as well be, where it is behind a glass that nobody measured.
    noise
        Standard deviation of `measured` summed over 1 nm of ultraviolet, as far as it is known:
        over w nm it is the square root of w times as much.
    """

    name: str
    power: Array
    wavelengths: Array = field(repr=False)
    measured: Array = field(repr=False)
    remarks: tuple[str, ...] = ()
    known_from: float | None = None
    unknown_excitation: float | None = None
    rests_on: tuple[str, ...] = ("cie-tables",)
    credible: tuple[Light, ...] = field(default=(), repr=False)
    noise: float = field(default=0.0, repr=False)

    @property
    def begins(self) -> float:
        """The wavelength, nm, from which all of the light is known."""
        return float(self.wavelengths[0]) if self.known_from is None else self.known_from


def luminous_power(source: Light) -> float:
    """Return the sum of a light's power times V(λ): what an illuminance meter answers to."""
    return float(source.power @ colour_matching_functions("2")[:, 1])


def at_wavelengths(source: Light, wavelengths: Array) -> Array:
    """Return a light's power at wavelengths, nm, by straight lines between those of its table.

    Returns
    -------
    Array of the shape of `wavelengths`; zero where the table has no value.
    """
    return np.interp(wavelengths, source.wavelengths, source.measured, left=0.0, right=0.0)


def illuminant_names() -> tuple[str, ...]:
    """Name every CIE illuminant that there is a table of.

    Examples
    --------
    >>> "D50" in illuminant_names() and "LED-B3" in illuminant_names()
    True
    """
    return tuple(illuminant_tables())


def interpolate_power(wavelengths: Array, power: Array, linear: bool = False) -> Array:
    """Bring a light's table to 1 nm.

    A cubic spline gives F11 the white point that is published for it; straight lines give
    (100.899, 100, 64.264). The D series is defined by straight lines between the tabulated
    values (CIE 15:2018, 4.1.2). Outside the table a light is held to have no power.

    Beside a narrow line the spline swings below zero, and has to: without that, the lines would
    weigh too much, and F3.4 lie 0.004 in x, y beside what is published. What is taken from the
    result is its sums, which are right; single values are given by `at_wavelengths`.

    Parameters
    ----------
    wavelengths, power
        The table, shape (n,), wavelengths rising, nm.
    linear
        Straight lines instead of a spline.

    Returns
    -------
    Array of shape (471,) on `NANOMETRES`.
    """
    if linear or wavelengths.size < 4:
        return np.interp(NANOMETRES, wavelengths, power, left=0.0, right=0.0)
    inside = (wavelengths[0] <= NANOMETRES) & (wavelengths[-1] >= NANOMETRES)
    result = np.zeros(NANOMETRES.size)
    result[inside] = cubic_spline(wavelengths, power, NANOMETRES[inside])
    return result


def cubic_spline(places: Array, values: Array, at: Array) -> Array:
    """The cubic spline through values, its third derivative continuous beside the ends as well.

    SciPy has it too ("not-a-knot"), but the import takes longer than an analysis.

    Parameters
    ----------
    places
        Shape (n,), rising.
    values
        Shape (n,) or (n, m).
    at
        Shape (k,), between the first place and the last.

    Returns
    -------
    Array of shape (k,) or (k, m).
    """
    n = places.size
    if n < 4:
        # The parabola, or the line.
        inverse = np.linalg.solve(np.vander(places - places[0]), values)
        return np.asarray(np.vander(at - places[0], n) @ inverse)
    gap = np.diff(places)
    slope = np.diff(values, axis=0) / gap.reshape(-1, *[1] * (values.ndim - 1))
    # For the second derivatives at the places.
    matrix, right = np.zeros((n, n)), np.zeros_like(values, dtype=np.float64)
    inner = np.arange(1, n - 1)
    matrix[inner, inner - 1], matrix[inner, inner + 1] = gap[:-1], gap[1:]
    matrix[inner, inner] = 2 * (gap[:-1] + gap[1:])
    matrix[0, :3] = gap[1], -(gap[0] + gap[1]), gap[0]
    matrix[-1, -3:] = gap[-1], -(gap[-2] + gap[-1]), gap[-2]
    right[1:-1] = 6 * np.diff(slope, axis=0)
    bend = np.linalg.solve(matrix, right)
    left = np.clip(np.searchsorted(places, at, side="right") - 1, 0, n - 2)
    away, wide = (
        one.reshape(-1, *[1] * (values.ndim - 1)) for one in (at - places[left], gap[left])
    )
    steep = slope[left] - wide * (2 * bend[left] + bend[left + 1]) / 6
    bends = bend[left] / 2, (bend[left + 1] - bend[left]) / (6 * wide)
    terms = (values[left], steep, *bends)
    return np.asarray(sum(term * away**power for power, term in enumerate(terms)))


@lru_cache
def cie_illuminant(name: str) -> Light:
    """Return a CIE illuminant by its name; FL11 is F11, as the others are.

    Raises
    ------
    UnknownLight
        With the nearest known names.

    Examples
    --------
    >>> cie_illuminant("fl11").name
    'F11'
    """
    known = {n.upper(): n for n in illuminant_names()}
    wanted = name.strip().upper()
    table_name = known.get(wanted) or known.get(wanted.replace("FL", "F", 1))
    if table_name is None:
        near = _nearest(wanted, list(known))
        hint = f"; names like it: {', '.join(known[n] for n in near)}" if near else ""
        if re.fullmatch(r"[1-9]\d{3,4}", wanted):
            hint = f"; a colour temperature is written {wanted}K"
        raise UnknownLight(f"the light '{name}' is not known{hint}")
    wavelengths, measured = illuminant_tables()[table_name]
    is_daylight = table_name in {"D50", "D55", "D60", "D65", "D75", "ID50", "ID65"}
    power = interpolate_power(wavelengths, measured, linear=is_daylight)
    for array in (power, wavelengths, measured):
        array.setflags(write=False)
    return Light(table_name, power, wavelengths, measured)


def _nearest(wanted: str, known: list[str]) -> list[str]:
    """Return up to three names that resemble one, those that begin alike first."""
    similar = difflib.get_close_matches(wanted, known, n=12, cutoff=0.5)
    similar.sort(key=lambda name: (-_alike(name, wanted), known.index(name)))
    return similar[:3]


def _alike(first: str, second: str) -> int:
    """Count the letters that two names begin with alike."""
    return sum(
        1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(first, second, strict=False))
    )


def light(name: str | Light) -> Light:
    """Return a light by its name, or as it is."""
    return name if isinstance(name, Light) else cie_illuminant(name)


_SERIES = re.compile(r"(?:(daylight|blackbody)-)?(?<![\d.])(\d+(?:\.\d+)?)\s*K?", re.IGNORECASE)

RANGES = {"daylight": (4000.0, 25000.0), "blackbody": (1000.0, 25000.0)}
"""Colour temperatures in kelvin; CIE 15:2018, 4.1.2 defines daylight from 4000 K to 25 000 K."""

FROM = 300.0
"""Both series are tabulated from here, nm, so that their ultraviolet is known."""


def series_light(name: str) -> Light | None:
    """The light `daylight-5000K` or `blackbody-2700K`; None for a name of another kind.

    Of a colour temperature alone, as 3000K, the kind is that of the reference illuminant of
    CIE 13.3-1995, 5.2 (memory): a blackbody below 5000 K, daylight from there on.

    Raises
    ------
    UnknownLight
        For a colour temperature outside the series.

    Examples
    --------
    >>> series_light("blackbody-2856K").name
    'blackbody-2856K'
    >>> series_light("D50") is None
    True
    """
    match = _SERIES.fullmatch(name.strip())
    if match is None:
        return None
    temperature = float(match[2])
    if match[1] is None and not name.strip().upper().endswith("K"):
        return None
    series = match[1] or ("blackbody" if temperature < 5000 else "daylight")
    return _series_light(series.lower(), temperature)


@lru_cache
def _series_light(series: str, temperature: float) -> Light:
    least, most = RANGES[series]
    if not least <= temperature <= most:
        raise UnknownLight(
            f"'{series}-{temperature:g}K' lies outside the series: "
            f"{series} goes from {least:g} K to {most:g} K"
        )
    wavelengths = np.arange(FROM, NANOMETRES[-1] + 1)
    make = _daylight if series == "daylight" else _blackbody
    measured = make(temperature, wavelengths)
    power = np.interp(NANOMETRES, wavelengths, measured)
    return Light(f"{series}-{temperature:g}K", power, wavelengths, measured, rests_on=("series",))


def daylight_chromaticity(temperature: float) -> tuple[float, float]:
    """Return x and y of CIE daylight, 4000 to 25 000 K (CIE 15:2018, 4.1.2)."""
    powers = temperature ** -np.arange(4.0)
    cool = temperature > 7000.0
    x = float(powers @ ([0.23704, 247.48, 1.9018e6, -2.0064e9] if cool else
                        [0.244063, 99.11, 2.9678e6, -4.607e9]))  # fmt: skip
    return x, -3.0 * x**2 + 2.87 * x - 0.275


def _daylight(temperature: float, wavelengths: Array) -> Array:
    """CIE daylight (CIE 15:2018, 4.1.2), straight lines between its tabulated values."""
    x, y = daylight_chromaticity(temperature)
    M = 0.0241 + 0.2562 * x - 0.7341 * y
    first = (-1.3515 - 1.7703 * x + 5.9114 * y) / M
    second = (0.0300 - 31.4424 * x + 30.0717 * y) / M
    tabulated, components = daylight_components()
    return np.interp(wavelengths, tabulated, components @ [1.0, first, second])


_C2 = 1.4388e-2  # m K: of Planck's law (CIE 15:2018).


def _blackbody(temperature: float, wavelengths: Array) -> Array:
    """Planck's law."""
    metres = 1e-9 * wavelengths
    power = metres**-5 / np.expm1(_C2 / (metres * temperature))
    return np.asarray(power / power.max())
