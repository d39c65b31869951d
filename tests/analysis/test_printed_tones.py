"""How tones print under a light: as measured where they were, smooth between, shifted by a lamp."""

from itertools import pairwise

import numpy as np
import pytest
from support.corrections import correction_with, curve_against

from greyscale.aims.tone import tone_aim
from greyscale.analysis.picture import corrected_tones, printed_tones
from greyscale.base.errors import BadInput
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.demo.printer import demo_printer
from greyscale.readings.lamps import find_light

PRINTER = demo_printer("cotton rag")
LEVELS = np.linspace(0, 1, 21)


def greys(levels):
    return np.repeat(np.asarray(levels)[:, np.newaxis], 3, axis=1)


def reading(noise=0.0, levels=LEVELS):
    ids = [str(i) for i in range(len(levels))]
    return PRINTER.measure(ids, greys(levels), noise=noise, seed=3)


def at(tones, levels):
    return np.stack([np.interp(levels, tones.levels, tones.lab[:, c]) for c in range(3)], axis=-1)


@pytest.mark.parametrize("light", ["D50", "A", "F11"])
def test_measured_tones_print_as_they_were_measured(light):
    measured = reading()
    tones = printed_tones(measured, find_light(light), "fading")
    expected = spectra_to_lab(measured.spectra, measured.wavelengths, light)
    np.testing.assert_allclose(at(tones, LEVELS), expected, atol=0.02)


@pytest.mark.parametrize("light", ["D50", "A", "F11", "LED-B3"])
def test_tones_between_print_as_the_printer_prints_them(light):
    """Against the simulated printer itself, every hundredth of the scale."""
    fine = np.linspace(0.02, 0.98, 97)
    source = find_light(light)
    truth = spectra_to_lab(PRINTER.spectra(greys(fine)), PRINTER.wavelengths, source)
    found = at(printed_tones(reading(), source, "fading"), fine)
    assert np.abs(found - truth).mean() < 0.15
    assert np.abs(found - truth).max() < 1.0


def test_between_two_tones_nothing_goes_beyond_them():
    """Fritsch and Carlson (1980): monotone data give a monotone curve."""
    measured = reading(noise=0.15)
    tones = printed_tones(measured, find_light("D50"), "fading")
    for low, high in pairwise(LEVELS):
        ends = at(tones, np.array([low, high]))
        inside = at(tones, np.linspace(low, high, 9))
        assert (inside >= ends.min(axis=0) - 0.02).all()
        assert (inside <= ends.max(axis=0) + 0.02).all()


def test_exaggeration_multiplies_the_distance_from_neutral_and_keeps_lightness():
    tones = printed_tones(reading(), find_light("A"), "fading")
    strong = tones.exaggerated(4.0)
    np.testing.assert_allclose(strong.delta_Ch, 4 * tones.delta_Ch)
    np.testing.assert_array_equal(strong.lab[:, 0], tones.lab[:, 0])
    np.testing.assert_allclose(tones.exaggerated(1.0).lab, tones.lab)


def test_a_corrected_print_is_as_predicted_under_the_light_of_the_prediction():
    curve = curve_against()
    tones = corrected_tones(reading(), find_light("D50"), "fading", curve.levels, curve.lab)
    np.testing.assert_allclose(at(tones, curve.levels), curve.lab, atol=0.02)


def near_neutral_reading():
    """The ramp, and beside each third tone one channel nudged up or down."""
    nudges = [
        np.clip(np.full(3, level) + np.eye(3)[channel] * way, 0, 1)
        for level in LEVELS[2:-1:3]
        for channel in range(3)
        for way in (-0.06, 0.06)
    ]
    device = np.vstack([greys(LEVELS), nudges])
    ids = [str(i) for i in range(len(device))]
    return PRINTER.measure(ids, device, noise=0.15, seed=3)


@pytest.mark.parametrize("light", ["A", "F11", "LED-B3"])
@pytest.mark.parametrize(("measured", "share", "floor"), [
    (reading(), 0.75, 0.5), (near_neutral_reading(), 0.25, 0.2),
], ids=["ramp alone", "near-neutral patches"])  # fmt: skip
def test_a_corrected_print_moves_under_a_light_as_the_printers_own_spectra_do(
    light, measured, share, floor
):
    """Other device values, so other inks: against the simulated printer's spectra of them.

    Channels are parted by up to 0.1. What is left, mean of ΔCh, is held against the shift itself.
    """
    levels = np.linspace(0, 1, 101)
    bend = 0.05 * np.sin(np.pi * levels)
    device = np.stack([levels - bend, levels, levels + bend], axis=-1).clip(0, 1)
    source = find_light(light)
    predicted = spectra_to_lab(PRINTER.spectra(device), PRINTER.wavelengths, "D50")
    truth = spectra_to_lab(PRINTER.spectra(device), PRINTER.wavelengths, source)
    found = at(corrected_tones(measured, source, "fading", levels, predicted), levels)
    left = np.hypot(*(found - truth)[:, 1:].T)
    shift = np.hypot(*(truth - predicted)[:, 1:].T)
    assert left.mean() < max(share * shift.mean(), floor)


def test_casts_of_a_corrected_print_are_found_where_it_has_them():
    """A prediction that leans 3 units to green between levels 0.4 and 0.6."""
    levels = np.linspace(0, 1, 201)
    lab = np.stack([20 + 75 * levels, np.zeros(201), np.zeros(201)], axis=-1)
    lab[:, 1] -= 3 * np.exp(-(((levels - 0.5) / 0.1) ** 2))
    tones = corrected_tones(reading(), find_light("D50"), "absolute", levels, lab)
    (cast,) = tones.casts
    assert cast.hue == "greenish"
    assert cast.peak_level == pytest.approx(0.5)
    assert cast.from_level == pytest.approx(0.4)
    assert cast.to_level == pytest.approx(0.6)


def test_aimed_tones_are_neutral_and_on_the_tone_aim():
    tones = printed_tones(reading(), find_light("D50"), "fading")
    aimed = tones.aimed(tone_aim("lstar"), "linear")
    assert aimed.delta_Ch.max() == pytest.approx(0, abs=1e-9)
    assert aimed.casts == ()
    L = aimed.lab[:, 0]
    expected = L[0] + (L[-1] - L[0]) * aimed.levels
    np.testing.assert_allclose(L, expected, atol=1e-9)


def test_another_light_needs_spectra():
    from dataclasses import replace

    plain = replace(reading(), spectra=None, wavelengths=None)
    assert printed_tones(plain, find_light("D50"), "fading").lab.shape[1] == 3
    with pytest.raises(BadInput, match=r"no spectra.*under A.*leave the light out"):
        printed_tones(plain, find_light("A"), "fading")


def test_the_corrections_prediction_is_all_that_is_taken_of_it():
    correction = correction_with(curve_against())
    tones = corrected_tones(
        reading(), find_light("D50"), "fading", correction.curve.levels, correction.curve.lab
    )
    assert tones.levels[[0, -1]].tolist() == [0.0, 1.0]
    np.testing.assert_allclose(tones.measured, LEVELS)
