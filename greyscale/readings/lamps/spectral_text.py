"""A lamp as ISO 28178 spectral text: a row of spectral fields, or a row per wavelength."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.lights import Light
from greyscale.readings.field_names import recognise_fields
from greyscale.readings.iso28178_text import TextTable, looks_like_iso28178, parse_file
from greyscale.readings.lamps.table import lamp
from greyscale.readings.numbers import to_numbers

WAVELENGTH_FIELDS = ("SPECTRAL_NM", "WAVELENGTH", "WAVELENGTH_NM", "NM")
"""Fields that hold a wavelength, in files with a row per wavelength."""
POWER_FIELDS = ("SPECTRAL_POWER", "SPECTRAL_VALUE", "SPECTRAL_EMISSION", "POWER", "VALUE")
"""Fields that hold the power there."""


def recognise(head: bytes) -> bool:
    """Tell from a file's first bytes whether it is of this format."""
    # Dropping the zeros and the marks of UTF-16 leaves the letters that matter.
    letters = head.replace(b"\0", b"").lstrip(b"\xff\xfe\xef\xbb\xbf")
    return looks_like_iso28178(letters.decode("latin-1"))


def read(path: Path) -> Light:
    """Read a lamp; the mean of its rows, where it was measured several times.

    Raises
    ------
    BadInput
        If no table of the file holds a spectrum.
    """
    return lamp(path.stem, *read_table(path), str(path))


def read_table(path: Path) -> tuple[Array, Array]:
    """Read wavelengths, nm, and values, each of shape (n,); the mean of several rows.

    Raises
    ------
    BadInput
        If no table of the file holds a spectrum.
    """
    for table in parse_file(path).tables:
        fields = recognise_fields(table.fields)
        spectral = [i for i, field in enumerate(fields) if field.wavelength is not None]
        if len(spectral) > 1:
            power = to_numbers(table.rows, spectral, _names(table, spectral), table.lines, path)
            nm = np.array([fields[i].wavelength for i in spectral], dtype=np.float64)
            return nm, power.mean(axis=0)
        pair = _pair_of_columns(table)
        if pair:
            values = to_numbers(table.rows, pair, _names(table, pair), table.lines, path)
            return values[:, 0], values[:, 1]
    raise BadInput(
        "holds no spectrum: fields such as SPECTRAL_NM400, or SPECTRAL_NM and SPECTRAL_POWER", path
    )


def _names(table: TextTable, columns: list[int]) -> list[str]:
    return [table.fields[i] for i in columns]


def _pair_of_columns(table: TextTable) -> list[int]:
    names = [name.upper() for name in table.fields]
    wavelength = [names.index(name) for name in WAVELENGTH_FIELDS if name in names]
    power = [names.index(name) for name in POWER_FIELDS if name in names]
    return [wavelength[0], power[0]] if wavelength and power else []
