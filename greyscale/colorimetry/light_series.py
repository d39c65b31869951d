"""Which light belongs to a colour temperature: daylight and blackbody."""

from __future__ import annotations

import re
from functools import lru_cache

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.lights import Light, UnknownLight
from greyscale.colorimetry.observers import NANOMETRES

_SERIES = re.compile(r"(daylight|blackbody)-(\d+(?:\.\d+)?)\s*K?", re.IGNORECASE)

RANGES = {"daylight": (4000.0, 25000.0), "blackbody": (1000.0, 25000.0)}
"""Colour temperatures in kelvin; CIE 15:2018, 4.1.2 defines daylight from 4000 K to 25 000 K."""

FROM = 300.0
"""Both series are tabulated from here, nm, so that their ultraviolet is known."""


def series_light(name: str) -> Light | None:
    """Give `daylight-5000K` or `blackbody-2700K`; None for a name of another kind.

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
    return _series_light(match[1].lower(), float(match[2]))


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


def _daylight(temperature: float, wavelengths: Array) -> Array:
    """CIE daylight (CIE 15:2018, 4.1.2), straight lines between its tabulated values."""
    import colour

    xy = colour.temperature.CCT_to_xy_CIE_D(temperature)
    table = colour.sd_CIE_illuminant_D_series(xy, M1_M2_rounding=False)
    return np.asarray(np.interp(wavelengths, table.wavelengths, table.values))


def _blackbody(temperature: float, wavelengths: Array) -> Array:
    """Planck's law with c2 = 1.4388e-2 m K (CIE 15:2018)."""
    import colour

    shape = colour.SpectralShape(FROM, NANOMETRES[-1], 1)
    table = colour.sd_blackbody(temperature, shape)
    values = np.asarray(table.values, dtype=np.float64)
    return np.asarray(values / values.max())
