"""Which colour-matching functions an observer has, and the other tables of the CIE."""

from __future__ import annotations

from functools import lru_cache
from importlib import resources

import numpy as np

from greyscale.colorimetry.arrays import Array

ILLUMINANT_FILE, OBSERVER_FILE, DAYLIGHT_FILE = (
    f"cie-{kind}.csv" for kind in ("illuminants", "observers", "daylight")
)
"""Made from `colour` by `tests/support/cie_tables.py`, and compared with it by a test: to import
the whole library takes longer than most commands do."""


@lru_cache
def illuminant_tables() -> dict[str, tuple[Array, Array]]:
    """Return wavelengths (n,), nm, and relative power (n,) of every CIE illuminant, by its name."""
    names, wavelengths, columns = _columns(ILLUMINANT_FILE)
    tables = {}
    for name, power in zip(names, columns.T, strict=True):
        known = ~np.isnan(power)
        tables[name] = (wavelengths[known], power[known])
    return tables


@lru_cache
def daylight_components() -> tuple[Array, Array]:
    """Return wavelengths (n,), nm, and S0, S1, S2 (n, 3), of which CIE daylight is made."""
    _, wavelengths, columns = _columns(DAYLIGHT_FILE)
    return wavelengths, columns


@lru_cache
def observer_tables() -> dict[str, tuple[Array, Array]]:
    """Return wavelengths (n,), nm, and x̄, ȳ, z̄ (n, 3) of the CIE's observers, by their names."""
    names, wavelengths, columns = _columns(OBSERVER_FILE)
    tables = {}
    for index in range(0, len(names), 3):
        functions = columns[:, index : index + 3]
        known = ~np.isnan(functions[:, 0])
        tables[names[index].removesuffix(" x")] = (wavelengths[known], functions[known])
    return tables


def _columns(file: str) -> tuple[list[str], Array, Array]:
    """Read names (k), wavelengths (n,) and values (n, k); not a number where a cell is empty."""
    text = (resources.files("greyscale.colorimetry") / "data" / file).read_text(encoding="utf-8")
    head, *lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = [[float(cell or "nan") for cell in line.split(",")] for line in lines]
    values = np.array(rows)
    return head.split(",")[1:], values[:, 0], values[:, 1:]


NANOMETRES: Array = np.arange(360.0, 831.0)
"""The 1 nm grid on which every observer and every light is tabulated: 360 to 830 nm."""

OBSERVERS = {
    "2": "CIE 1931 2 Degree Standard Observer",
    "10": "CIE 1964 10 Degree Standard Observer",
    "2015-2": "CIE 2015 2 Degree Standard Observer",
    "2015-10": "CIE 2015 10 Degree Standard Observer",
}
"""Name of an observer here, and of its table (CIE 15:2018; CIE 170-2:2015)."""


@lru_cache
def colour_matching_functions(observer: str = "2") -> Array:
    """Return x̄, ȳ, z̄ of an observer at 1 nm.

    Parameters
    ----------
    observer
        A name of `OBSERVERS`: "2" (CIE 1931), "10" (CIE 1964), "2015-2", "2015-10".

    Returns
    -------
    Array of shape (471, 3) on `NANOMETRES`; zero where the table has no value.

    Raises
    ------
    LookupError
        For an observer that is not known.

    Examples
    --------
    >>> colour_matching_functions("2")[555 - 360].round(4).tolist()
    [0.5121, 1.0, 0.0057]
    """
    if observer not in OBSERVERS:
        known = ", ".join(OBSERVERS)
        raise LookupError(f"the observer '{observer}' is not known; take one of {known}")
    wavelengths, values = observer_tables()[OBSERVERS[observer]]
    functions = np.zeros((NANOMETRES.size, 3))
    first = round(wavelengths[0] - NANOMETRES[0])
    functions[first : first + wavelengths.size] = values
    functions.setflags(write=False)
    return functions
