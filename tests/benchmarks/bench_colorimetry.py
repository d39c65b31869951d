"""100 000 spectra under three lights to CIELAB, against bare NumPy and another library."""

from __future__ import annotations

import warnings

import colour
import numpy as np

from greyscale.colorimetry.cielab import spectra_to_lab
from tests.benchmarks.ratios import fastest, ratio, report

LIGHTS = ("D50", "A", "F11")
WAVELENGTHS = np.arange(380.0, 731.0, 10.0)
SPECTRA = np.random.default_rng(1).uniform(0.02, 0.9, (100_000, WAVELENGTHS.size))


def ours() -> None:
    for light in LIGHTS:
        spectra_to_lab(SPECTRA, WAVELENGTHS, light)


def bare() -> None:
    """The matrix products and the cube roots that no computation can do without."""
    weights = np.random.default_rng(2).uniform(0, 5, (WAVELENGTHS.size, 3))
    for _ in LIGHTS:
        np.cbrt(SPECTRA @ weights)


def test_spectra_against_the_bare_product() -> None:
    ours()
    report("100 000 spectra, 3 lights, against bare product and roots", ratio(ours, bare), 4)


def test_spectra_against_another_librarys_e308() -> None:
    """`colour.msds_to_XYZ`, ASTM E308, per light, on 1000 spectra: its time goes with them."""
    few = colour.MultiSpectralDistributions(SPECTRA[:1000].T, WAVELENGTHS)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    light = colour.SDS_ILLUMINANTS["D50"]

    def theirs() -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            colour.msds_to_XYZ(few, cmfs, light, method="ASTM E308")

    def own() -> None:
        spectra_to_lab(SPECTRA[:1000], WAVELENGTHS, "D50")

    theirs()
    found, mine, other = ratio(own, theirs)
    print(f"\n1000 spectra, one light: {1 / found:.0f} times faster than E308 of the library")
    assert other >= 20 * mine
    assert fastest(ours, 3) < 60
