"""The data files hold what `colour` publishes of the CIE's tables, value for value."""

from __future__ import annotations

import colour
import numpy as np
import pytest
from support import cie_tables

from greyscale.colorimetry.lights import series_light
from greyscale.colorimetry.observers import (
    daylight_components,
    illuminant_tables,
    observer_tables,
)

ANEW = "make the files anew: python tests/support/cie_tables.py"


def test_every_illuminant_is_the_librarys() -> None:
    theirs, ours = cie_tables.illuminants(), illuminant_tables()
    assert list(ours) == list(theirs), ANEW
    for name, (wavelengths, power) in theirs.items():
        np.testing.assert_array_equal(ours[name][0], wavelengths, err_msg=f"{name}; {ANEW}")
        np.testing.assert_array_equal(ours[name][1], power, err_msg=f"{name}; {ANEW}")


def test_daylights_components_are_the_librarys() -> None:
    wavelengths, ours = daylight_components()
    for (theirs, values), column in zip(cie_tables.daylight().values(), ours.T, strict=True):
        np.testing.assert_array_equal(wavelengths, theirs, err_msg=ANEW)
        np.testing.assert_array_equal(column, values, err_msg=ANEW)


@pytest.mark.parametrize("kelvin", [4000, 5003, 6504, 7001, 25_000])
def test_daylight_is_the_librarys(kelvin: float) -> None:
    xy = colour.temperature.CCT_to_xy_CIE_D(kelvin)
    table = colour.sd_CIE_illuminant_D_series(xy, M1_M2_rounding=False)
    made = series_light(f"daylight-{kelvin}K")
    np.testing.assert_allclose(made.measured[::5], table.values, rtol=1e-12)


@pytest.mark.parametrize("kelvin", [1000, 2856, 25_000])
def test_a_blackbody_is_the_librarys(kelvin: float) -> None:
    made = series_light(f"blackbody-{kelvin}K")
    shape = colour.SpectralShape(made.wavelengths[0], made.wavelengths[-1], 1)
    values = colour.sd_blackbody(kelvin, shape).values
    np.testing.assert_allclose(made.measured, values / values.max(), rtol=1e-12)


def test_every_observer_is_the_librarys() -> None:
    theirs, ours = cie_tables.observers(), observer_tables()
    assert list(ours) == list(theirs), ANEW
    for name, (wavelengths, functions) in theirs.items():
        np.testing.assert_array_equal(ours[name][0], wavelengths, err_msg=f"{name}; {ANEW}")
        np.testing.assert_array_equal(ours[name][1], functions, err_msg=f"{name}; {ANEW}")
