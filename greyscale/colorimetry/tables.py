"""The CIE's tables of illuminants, daylight and observers, from data files.

The files are made from `colour` by `tests/support/cie_tables.py`, and compared with it by a test:
to import the whole library takes longer than most commands do.
"""

from __future__ import annotations

from functools import lru_cache
from importlib import resources

import numpy as np

from greyscale.colorimetry.arrays import Array

ILLUMINANTS = "cie-illuminants.csv"
OBSERVERS = "cie-observers.csv"
DAYLIGHT = "cie-daylight.csv"


@lru_cache
def illuminant_tables() -> dict[str, tuple[Array, Array]]:
    """Return wavelengths (n,), nm, and relative power (n,) of every CIE illuminant, by its name."""
    names, wavelengths, columns = _columns(ILLUMINANTS)
    tables = {}
    for name, power in zip(names, columns.T, strict=True):
        known = ~np.isnan(power)
        tables[name] = (wavelengths[known], power[known])
    return tables


@lru_cache
def daylight_components() -> tuple[Array, Array]:
    """Return wavelengths (n,), nm, and S0, S1, S2 (n, 3), of which CIE daylight is made."""
    _, wavelengths, columns = _columns(DAYLIGHT)
    return wavelengths, columns


@lru_cache
def observer_tables() -> dict[str, tuple[Array, Array]]:
    """Return wavelengths (n,), nm, and x̄, ȳ, z̄ (n, 3) of the CIE's observers, by their names."""
    names, wavelengths, columns = _columns(OBSERVERS)
    tables = {}
    for index in range(0, len(names), 3):
        functions = columns[:, index : index + 3]
        known = ~np.isnan(functions[:, 0])
        tables[names[index].removesuffix(" x")] = (wavelengths[known], functions[known])
    return tables


def _columns(file: str) -> tuple[list[str], Array, Array]:
    """Read names (k), wavelengths (n,) and values (n, k); not a number where a cell is empty."""
    text = (resources.files("greyscale.colorimetry.data") / file).read_text(encoding="utf-8")
    head, *lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = [[float(cell or "nan") for cell in line.split(",")] for line in lines]
    values = np.array(rows)
    return head.split(",")[1:], values[:, 0], values[:, 1:]
