"""A lamp as two columns of text: wavelength and power."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.lights import Light
from greyscale.readings.lamps.table import lamp
from greyscale.readings.source_file import decode, read_bytes, text_lines

WAVELENGTH_UNITS = ((100.0, 2500.0, 1.0), (2500.0, 25000.0, 0.1), (0.1, 2.5, 1000.0))
"""Least and largest wavelength in nm, Å and µm, and that unit in nm."""


def recognise(head: bytes) -> bool:
    """Tell from a file's first bytes whether it is of this format: text, of any kind."""
    return b"\0" not in head


def read(path: Path) -> Light:
    """Read a lamp: wavelength and power in any unit.

    Raises
    ------
    BadInput
        With the line that cannot be read, or why the spectrum cannot be used.
    """
    wavelengths, power = read_table(path)
    return lamp(path.stem, wavelengths, power, str(path))


def read_table(path: Path) -> tuple[Array, Array]:
    """Read two columns parted by comma, semicolon, tab or blanks; decimal comma or point.

    Lines that start with # and lines of words before the first numbers are passed over. The
    unit of the wavelengths is known by their size.

    Returns
    -------
    Wavelengths in nm and the second column, each of shape (n,), as they stand.

    Raises
    ------
    BadInput
        With the line that cannot be read.
    """
    rows = []
    lines = text_lines(decode(read_bytes(path), path))
    for number, line in enumerate(lines, start=1):
        content = line.split("#")[0].strip()
        if not content:
            continue
        values = _two_numbers(content)
        if values is not None:
            rows.append(values)
        elif rows:
            raise BadInput(
                f"'{content[:40]}' is not a wavelength and a number; two columns are needed",
                path,
                number,
            )
    if not rows:
        raise BadInput("does not hold two columns of numbers (wavelength, power)", path)
    table = np.array(rows, dtype=np.float64)
    return _in_nanometres(table[:, 0], path), table[:, 1]


def _two_numbers(line: str) -> tuple[float, float] | None:
    for separator in (";", "\t", ",", None):
        parts = [part.strip() for part in line.split(separator) if part.strip()]
        if len(parts) == 2:
            break
    else:
        # A decimal comma beside a comma between the columns cannot be told apart; with blanks
        # around it, it can.
        parts = re.split(r",?\s+", line)
    if len(parts) != 2:
        return None
    try:
        first, second = (float(part.strip('"').replace(",", ".")) for part in parts)
    except ValueError:
        return None
    return first, second


def _in_nanometres(wavelengths: Array, path: Path) -> Array:
    for least, largest, factor in WAVELENGTH_UNITS:
        if least <= wavelengths.min() and wavelengths.max() <= largest:
            return wavelengths * factor
    raise BadInput(
        f"its first column runs from {wavelengths.min():g} to {wavelengths.max():g}, "
        "which are not wavelengths in nm, µm or Å",
        path,
    )
