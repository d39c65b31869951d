"""Spectra every 5 nm and the same every 10 nm, or 20 nm: how far what is found may differ.

The weights for 10 nm (ASTM E2022) take a spectrum for a polynomial between its values. A print is
smooth, so little is lost; a spectrum with steep flanks loses more, most of all under lines.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import colour
import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from support.one_print import OF_THE_FILE, Measured, a_print, assert_same, found_in, text_of

from greyscale.colorimetry.cielab import spectra_to_lab

LIGHTS = ("D50", "A", "F11", "F2", "LED-B3")
OWN = OF_THE_FILE | {"evidence", "hue_angle"}

FINE = 0.0015
"""Between 1 nm and 5 nm sums of a print, in any figure. Found: 0.0008."""
USUAL = 0.01
"""Between 5 nm and 10 nm. Found: 0.0075, under F11; 0.0018 under D50."""


def sampled(step: int) -> Measured:
    """A print, smooth between the values that were measured, every so many nm."""
    one = a_print(repeats=[0, 8, 16])
    wavelengths = np.arange(380.0, 721.0, step)
    spectra = CubicSpline(one.wavelengths, one.spectra, axis=1)(wavelengths)
    return replace(one, spectra=spectra, wavelengths=wavelengths)


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[int, dict[str, Any]]:
    """All that is found by step."""
    path: Path = tmp_path_factory.mktemp("steps") / "ramp.txt"
    by_step = {}
    for step in (1, 5, 10):
        path.write_text(text_of(sampled(step)), encoding="utf-8")
        by_step[step] = found_in(path, lights=LIGHTS)
    return by_step


@pytest.mark.parametrize(("fine", "coarse", "within"), [(1, 5, FINE), (5, 10, USUAL)])
def test_a_print(fine: int, coarse: int, within: float, found: dict[int, dict[str, Any]]) -> None:
    assert_same(found[coarse], found[fine], within=within, but=OWN | {"response_told_by"})


@pytest.mark.parametrize(("light", "within"), [
    ("D50", 0.06), ("A", 0.06), ("F2", 0.06), ("LED-B3", 0.06), ("F11", 0.26),
])  # fmt: skip
def test_twenty_nanometres_lose_no_more_than_they_must(light: str, within: float) -> None:
    """L*, a*, b* of a print, against 1 nm. Found: 0.059, and 0.253 under F11.

    What 20 nm do not tell, no weights bring back: a cubic spline through the same values (SciPy)
    is off by 0.053, and 0.301 under F11.
    """
    fine, coarse = sampled(1), sampled(20)
    true = spectra_to_lab(fine.spectra, fine.wavelengths, light)
    curve = CubicSpline(coarse.wavelengths, coarse.spectra, axis=1)(fine.wavelengths)
    lost = np.abs(spectra_to_lab(curve, fine.wavelengths, light) - true).max()
    off = np.abs(spectra_to_lab(coarse.spectra, coarse.wavelengths, light) - true).max()
    assert off <= within
    assert off <= 1.5 * lost


@pytest.mark.parametrize(("light", "within"), [
    ("D50", 0.035), ("A", 0.035), ("LED-B3", 0.035), ("F11", 0.12), ("F2", 0.12),
])  # fmt: skip
@pytest.mark.parametrize("observer", ["2", "10"])
def test_measured_greys(light: str, within: float, observer: str) -> None:
    """N. Ohta's 5 nm spectra of a chart's six greys (1997, as in `colour`): L*, a*, b* each.

    Found: 0.030 under D50, 0.029 under A, 0.096 under F11, whose lines fall between.
    """
    chart = colour.SDS_COLOURCHECKERS["cc_ohta"]
    greys = [chart[name] for name in list(chart)[-6:]]
    spectra = np.stack([grey.values for grey in greys])
    wavelengths = np.asarray(greys[0].wavelengths)
    five = spectra_to_lab(spectra, wavelengths, light, observer)
    ten = spectra_to_lab(spectra[:, ::2], wavelengths[::2], light, observer)
    assert np.abs(ten - five).max() <= within


def test_plain_sums_would_not_do() -> None:
    """What the weights are for: sums of the 10 nm values alone are off by more under lines."""
    wavelengths = np.arange(380.0, 731.0, 10.0)
    one = a_print()
    lamp = colour.SDS_ILLUMINANTS["FL11"].copy().align(colour.SpectralShape(380, 730, 10))
    eyes = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy()
    weights = eyes.align(colour.SpectralShape(380, 730, 10)).values * lamp.values[:, np.newaxis]
    xyz = one.spectra @ weights / weights[:, 1].sum()
    white = weights.sum(axis=0) / weights[:, 1].sum()
    plain = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white))
    assert np.abs(plain - spectra_to_lab(one.spectra, wavelengths, "F11")).max() > 10 * USUAL
