"""The data files hold what `colour` publishes of the CIE's tables, value for value."""

from __future__ import annotations

import numpy as np
from support import cie_tables

from greyscale.colorimetry.tables import illuminant_tables, observer_tables

ANEW = "make the files anew: python tests/support/cie_tables.py"


def test_every_illuminant_is_the_librarys() -> None:
    theirs, ours = cie_tables.illuminants(), illuminant_tables()
    assert list(ours) == list(theirs), ANEW
    for name, (wavelengths, power) in theirs.items():
        np.testing.assert_array_equal(ours[name][0], wavelengths, err_msg=f"{name}; {ANEW}")
        np.testing.assert_array_equal(ours[name][1], power, err_msg=f"{name}; {ANEW}")


def test_every_observer_is_the_librarys() -> None:
    theirs, ours = cie_tables.observers(), observer_tables()
    assert list(ours) == list(theirs), ANEW
    for name, (wavelengths, functions) in theirs.items():
        np.testing.assert_array_equal(ours[name][0], wavelengths, err_msg=f"{name}; {ANEW}")
        np.testing.assert_array_equal(ours[name][1], functions, err_msg=f"{name}; {ANEW}")
