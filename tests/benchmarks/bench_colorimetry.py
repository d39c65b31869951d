"""Many spectra under three lights to CIELAB, against bare NumPy and another library."""

from __future__ import annotations

import warnings

import colour
import numpy as np
import pytest

from greyscale.colorimetry.cielab import spectra_to_lab
from tests.benchmarks.ratios import hold_ratio

LIGHTS = ("D50", "A", "F11")
WAVELENGTHS = np.arange(380.0, 731.0, 10.0)


def spectra(count: int) -> np.ndarray:
    return np.random.default_rng(1).uniform(0.02, 0.9, (count, WAVELENGTHS.size))


@pytest.mark.parametrize(("count", "runs"), [(100_000, 7), (1_000_000, 3)])
def test_spectra_against_the_bare_product(count: int, runs: int) -> None:
    """The matrix products and the cube roots that no computation can do without."""
    given = spectra(count)
    weights = np.random.default_rng(2).uniform(0, 5, (WAVELENGTHS.size, 3))

    def ours() -> None:
        for light in LIGHTS:
            spectra_to_lab(given, WAVELENGTHS, light)

    def bare() -> None:
        for _ in LIGHTS:
            np.cbrt(given @ weights)

    name = f"{count:,}".replace(",", " ")
    hold_ratio(f"{name} spectra to CIELAB, 3 lights", ours, "bare product and roots", bare, 4, runs)


def test_spectra_against_another_librarys_e308() -> None:
    """`colour.msds_to_XYZ`, ASTM E308, on 1000 spectra: its time goes with their number."""
    given = spectra(1000)
    few = colour.MultiSpectralDistributions(given.T, WAVELENGTHS)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    light = colour.SDS_ILLUMINANTS["D50"]

    def theirs() -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            colour.msds_to_XYZ(few, cmfs, light, method="ASTM E308")

    def ours() -> None:
        spectra_to_lab(given, WAVELENGTHS, "D50")

    hold_ratio("1000 spectra to CIELAB, D50", ours, "ASTM E308 of `colour`", theirs, 0.05)
