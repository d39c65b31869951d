"""A ramp under lights: what must be zero is, what must not be is not."""

from __future__ import annotations

import colour
import numpy as np
import pytest
from support.grey_readings import WAVELENGTHS, grey_spectra, ramp_lab, reading_of

from greyscale.analysis.analyse import analyse
from greyscale.base.errors import BadInput
from greyscale.colorimetry.lights import illuminant_names
from greyscale.colorimetry.tristimulus import WavelengthGrid, tristimulus_weights

LEVELS = np.linspace(0, 1, 11)


def test_a_flat_grey_ramp_is_neutral_under_every_light():
    found = analyse(reading_of(LEVELS, spectra=grey_spectra(LEVELS)), lights=illuminant_names())
    assert len(found.lights) == len(illuminant_names()) > 50
    for light in found.lights:
        assert np.abs(light.lab[:, 1:]).max() < 1e-9
        assert light.metamerism_index.max() < 1e-9
        assert light.metamerism_index_ab.max() < 1e-9
        assert light.colour_inconstancy.max() < 1e-9
        assert light.max_delta_Ch < 1e-9


def unseen_under_D50():
    """A part that the weights of D50, 2°, do not see: from their null space."""
    weights = tristimulus_weights(WavelengthGrid.of(WAVELENGTHS), "D50")
    _, _, rows = np.linalg.svd(weights.T)
    part = (rows[3:] @ np.sin(WAVELENGTHS / 30)) @ rows[3:]
    return part / np.abs(part).max()


def test_a_ramp_that_matches_grey_under_D50_only():
    mid = 4 * LEVELS * (1 - LEVELS)
    spectra = grey_spectra(LEVELS) + 0.08 * mid[:, None] * unseen_under_D50()
    found = analyse(reading_of(LEVELS, spectra=spectra))
    assert found.neutrality.max_delta_Ch < 1e-9
    assert found.neutrality.casts == ()
    D50, A, F11 = found.lights
    assert D50.max_metamerism_index < 1e-9
    assert A.max_metamerism_index > 1
    assert A.max_delta_Ch > 1
    assert F11.max_metamerism_index > 0.5
    assert A.casts


def tinted():
    shape = 1 + 0.06 * np.sin((WAVELENGTHS - 380) / 45)
    return grey_spectra(LEVELS) * shape


def test_the_aim_under_a_light_is_of_paper_and_black_under_that_light():
    """Fading aim by hand (ISO 12647-2:2013, memory) from the paper's a*, b* under A."""
    found = analyse(reading_of(LEVELS, spectra=tinted()), lights=["A"])
    (A,) = found.lights
    L, ab = A.lab[:, 0], A.lab[:, 1:]
    kept = 1 - 0.85 * (L[0] - L) / (L[0] - L[-1])
    expected = np.hypot(*(ab - kept[:, None] * ab[0]).T)
    np.testing.assert_allclose(A.drift.delta_Ch, expected, atol=1e-9)
    assert A.max_delta_Ch == pytest.approx(expected[1:-1].max())
    assert found.patches.aim_lab[0, 1] != pytest.approx(A.drift.aim_ab[0, 0])


def test_relative_to_paper_the_paper_is_white():
    """CIELAB of XYZ with the paper's XYZ for white, by `colour`."""
    spectra = tinted()
    found = analyse(reading_of(LEVELS, spectra=spectra), lights=["A"])
    (A,) = found.lights
    np.testing.assert_allclose(A.relative_lab[0], [100, 0, 0], atol=1e-9)
    weights = tristimulus_weights(WavelengthGrid.of(WAVELENGTHS), "A")
    xyz = spectra[::-1] @ weights
    paper = colour.XYZ_to_xy(xyz[0] / 100)
    expected = colour.XYZ_to_Lab(xyz / xyz[0, 1], paper)
    np.testing.assert_allclose(A.relative_lab, expected, atol=1e-6)


def test_under_D50_the_light_says_what_the_neutrality_says():
    found = analyse(reading_of(LEVELS, spectra=tinted()))
    D50 = found.lights[0]
    assert D50.name == "D50"
    assert D50.mean_delta_Ch == pytest.approx(found.neutrality.mean_delta_Ch)
    assert D50.casts == found.neutrality.casts


def test_a_light_named_twice_is_looked_at_once():
    found = analyse(reading_of(LEVELS, spectra=tinted()), lights=["D50", "A", "F11", "a", "D65"])
    assert [light.name for light in found.lights] == ["D50", "A", "F11", "D65"]


def test_without_spectra_the_lights_are_missing_and_everything_else_is_there():
    with_spectra = analyse(reading_of(LEVELS, spectra=tinted()))
    lab = with_spectra.patches.lab[::-1]
    without = analyse(reading_of(LEVELS, lab))
    assert without.lights is None
    assert "no spectra" in without.lights_absent
    assert with_spectra.lights_absent is None
    assert without.neutrality == with_spectra.neutrality
    assert without.tone.rms_delta_L == with_spectra.tone.rms_delta_L


def test_an_unknown_light_is_refused_with_near_ones():
    reading = reading_of(LEVELS, ramp_lab(LEVELS))
    with pytest.raises(BadInput, match="LED-B"):
        analyse(reading, lights=["LED-B9"])
