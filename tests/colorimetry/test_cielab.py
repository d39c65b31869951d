"""CIELAB and CAT16 against second libraries, density against closed forms."""

from __future__ import annotations

import colorspacious
import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from greyscale.colorimetry.cielab import (
    chroma,
    density_from_lightness,
    hue_angle,
    lab_to_xyz,
    lightness,
    luminance,
    spectra_to_lab,
    visual_density,
    xyz_to_lab,
)
from greyscale.colorimetry.illuminant_change import adapt_cat16
from greyscale.colorimetry.lights import illuminant_names
from greyscale.colorimetry.observers import NANOMETRES
from greyscale.colorimetry.tristimulus import white_point

WAVELENGTHS = np.arange(380.0, 731.0, 10.0)


def test_cielab_equals_a_second_library() -> None:
    """`colorspacious`, D50 (2°), 1000 random stimuli."""
    xyz = np.random.default_rng(3).uniform(0.01, 95, (1000, 3))
    space = {"name": "CIELab", "XYZ100_w": "D50"}
    theirs = colorspacious.cspace_convert(xyz, "XYZ100", space)
    ours = xyz_to_lab(xyz, colorspacious.standard_illuminant_XYZ100("D50"))
    np.testing.assert_allclose(ours, theirs, atol=1e-9)


@given(
    st.tuples(st.floats(0, 100), st.floats(-40, 40), st.floats(-40, 40)),
)
def test_cielab_and_back(lab: tuple[float, float, float]) -> None:
    white = white_point("D50")
    np.testing.assert_allclose(xyz_to_lab(lab_to_xyz(lab, white), white), lab, atol=1e-9)


def test_lightness_handbook_values() -> None:
    """CIE 15:2018, 8.2.1: L* 50 is Y 18.4187; below Y 0.8856 a straight line of slope 9.033."""
    assert lightness(18.418651851244416) == pytest.approx(50.0)
    assert lightness(0.1) == pytest.approx(0.1 * 903.2962962 / 100, rel=1e-6)
    np.testing.assert_allclose(luminance(lightness([0.0, 0.3, 5.0, 88.0])), [0.0, 0.3, 5.0, 88.0])


def test_hue_and_chroma() -> None:
    np.testing.assert_allclose(chroma([[3.0, -4.0]]), [5.0])
    np.testing.assert_allclose(hue_angle([[0.0, 1.0], [-1.0, 0.0]]), [90.0, 180.0])


@pytest.mark.parametrize("source", ["A", "F11", "D65", "LED-B1"])
def test_cat16_equals_a_second_library(source: str) -> None:
    """`colour`'s von Kries adaptation with CAT16."""
    xyz = np.random.default_rng(4).uniform(1, 95, (200, 3))
    white, d50 = white_point(source), white_point("D50")
    theirs = colour.adaptation.chromatic_adaptation_VonKries(xyz, white, d50, transform="CAT16")
    np.testing.assert_allclose(adapt_cat16(xyz, white, d50), theirs, atol=1e-4)


@pytest.mark.parametrize("source", illuminant_names())
@pytest.mark.parametrize("observer", ["2", "10"])
def test_a_flat_grey_is_neutral_under_every_light(source: str, observer: str) -> None:
    lab = spectra_to_lab(np.full(36, 0.18), WAVELENGTHS, source, observer)
    np.testing.assert_allclose(lab[1:], 0.0, atol=1e-9)


def test_density_of_a_flat_grey_is_its_logarithm() -> None:
    """ISO 5-3: density = -log10 of the reflectance factor."""
    grey = np.array([1.0, 0.1, 0.01, 0.005])
    spectra = np.repeat(grey[:, None], 36, axis=1)
    np.testing.assert_allclose(visual_density(spectra, WAVELENGTHS), -np.log10(grey), atol=1e-12)


def test_density_from_spectra_is_the_sum_at_one_nanometre_over_a_times_v() -> None:
    """ISO 5-3:2009: visual spectral product, illuminant A times V(λ); `colour`'s tables."""
    slope = 0.05 + 0.5 * (NANOMETRES - 360) / 470
    A = colour.SDS_ILLUMINANTS["A"].copy().align(colour.SpectralShape(360, 780, 1)).values
    V = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].values[: A.size, 1]
    exact = -np.log10(np.sum(slope[: A.size] * A * V) / np.sum(A * V))
    measured = 0.05 + 0.5 * (WAVELENGTHS - 360) / 470
    assert visual_density(measured, WAVELENGTHS) == pytest.approx(exact, abs=1e-4)


def test_density_without_spectra() -> None:
    assert density_from_lightness(50.0) == pytest.approx(-np.log10(0.18418651851), abs=1e-9)
