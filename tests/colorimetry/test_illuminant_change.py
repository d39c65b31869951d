"""Metamerism index and colour inconstancy, step by step by a second library."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from greyscale.colorimetry.illuminant_change import colour_inconstancy, metamerism_index
from greyscale.colorimetry.lights import illuminant_names
from greyscale.colorimetry.tristimulus import (
    WavelengthGrid,
    grid_white_point,
    spectra_to_xyz,
    tristimulus_weights,
)

WAVELENGTHS = np.arange(380.0, 731.0, 10.0)
SAMPLES = np.random.default_rng(5).uniform(0.02, 0.9, (40, 1)) * (
    1 + np.random.default_rng(6).normal(0, 0.05, (40, WAVELENGTHS.size)).cumsum(axis=1) / 3
)


def under(light, spectra=SAMPLES):
    return (
        spectra_to_xyz(spectra, WAVELENGTHS, light),
        grid_white_point(WAVELENGTHS, light),
    )


def lab_by_colour(xyz, white):
    return colour.XYZ_to_Lab(xyz / 100, colour.XYZ_to_xy(white / 100))


@pytest.mark.parametrize("light", ["A", "F11", "LED-B3", "D65"])
@pytest.mark.parametrize(
    ("difference", "method"), [("CIEDE2000", "CIE 2000"), ("ΔE*ab", "CIE 1976")]
)
def test_index_of_one_sample_after_another(light, difference, method):
    """CIE 15:2018, ISO 18314-4: correct multiplicatively by the mismatch under D50; compare."""
    (xyz_D50, white_D50), (xyz_t, white_t) = under("D50"), under(light)
    found = metamerism_index(xyz_D50, xyz_t, white_D50, white_t, difference)
    for i in range(0, len(SAMPLES), 7):
        grey = np.full(WAVELENGTHS.size, xyz_D50[i, 1] / 100)
        grey_D50 = spectra_to_xyz(grey, WAVELENGTHS, "D50")
        grey_t = spectra_to_xyz(grey, WAVELENGTHS, light)
        corrected = [xyz_t[i, c] * grey_D50[c] / xyz_D50[i, c] for c in range(3)]
        expected = colour.delta_E(
            lab_by_colour(np.array(corrected), white_t), lab_by_colour(grey_t, white_t), method
        )
        assert found[i] == pytest.approx(float(expected), abs=1e-6)


@pytest.mark.parametrize("light", ["A", "F11", "LED-B3", "D65"])
def test_inconstancy_by_a_second_library(light):
    """CIE 248:2022, CAT16 with full adaptation: von Kries in `colour` with its CAT16 matrix."""
    (xyz_D50, white_D50), (xyz_t, white_t) = under("D50"), under(light)
    corresponding = colour.adaptation.chromatic_adaptation_VonKries(
        xyz_t, white_t, white_D50, transform="CAT16"
    )
    expected = colour.delta_E(
        lab_by_colour(corresponding, white_D50), lab_by_colour(xyz_D50, white_D50), "CIE 2000"
    )
    found = colour_inconstancy(xyz_D50, xyz_t, white_D50, white_t)
    np.testing.assert_allclose(found, expected, atol=1e-6)


@pytest.mark.parametrize("light", illuminant_names())
def test_a_flat_grey_has_neither_under_any_light(light):
    flat = np.repeat(np.array([[0.02], [0.18], [0.5], [0.9]]), WAVELENGTHS.size, axis=1)
    (xyz_D50, white_D50), (xyz_t, white_t) = under("D50", flat), under(light, flat)
    assert np.abs(metamerism_index(xyz_D50, xyz_t, white_D50, white_t)).max() < 1e-9
    assert np.abs(colour_inconstancy(xyz_D50, xyz_t, white_D50, white_t)).max() < 1e-9


def metameric_pair():
    """A flat grey, and the same with a part added that D50 and its observer do not see."""
    weights = tristimulus_weights(WavelengthGrid.of(WAVELENGTHS), "D50")
    _, _, rows = np.linalg.svd(weights.T)
    unseen = rows[3:] @ np.sin(WAVELENGTHS / 30)  # the null space has all rows from the fourth on
    part = unseen @ rows[3:]
    grey = np.full(WAVELENGTHS.size, 0.4)
    return grey, grey + 0.1 * part / np.abs(part).max()


def test_a_metameric_pair_is_equal_under_D50_and_parts_under_A():
    """The pair matches under D50 exactly, so the index is the plain difference under A."""
    grey, other = metameric_pair()
    assert np.abs(other - grey).max() == pytest.approx(0.1)
    xyz_D50, white_D50 = under("D50", np.stack([grey, other]))
    np.testing.assert_allclose(xyz_D50[0], xyz_D50[1], atol=1e-9)
    xyz_A, white_A = under("A", np.stack([grey, other]))
    index = metamerism_index(xyz_D50, xyz_A, white_D50, white_A)
    plain = colour.delta_E(
        lab_by_colour(xyz_A[0], white_A), lab_by_colour(xyz_A[1], white_A), "CIE 2000"
    )
    assert index[0] == pytest.approx(0, abs=1e-9)
    assert index[1] == pytest.approx(float(plain), abs=1e-6)
    assert index[1] > 0.5


def test_no_light_at_all_is_no_error():
    white = np.array([96.42, 100.0, 82.52])
    assert metamerism_index([0.0, 0.0, 0.0], [0.0, 0.0, 0.0], white, white) == 0


def test_the_same_light_changes_nothing():
    xyz, white = under("D50")
    np.testing.assert_allclose(metamerism_index(xyz, xyz, white, white), 0, atol=1e-9)
    np.testing.assert_allclose(colour_inconstancy(xyz, xyz, white, white), 0, atol=1e-9)
