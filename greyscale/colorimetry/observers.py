"""Which colour-matching functions an observer has."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.tables import observer_tables

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
