"""A constructed brightened paper under other lights against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from greyscale.colorimetry.cielab import lab_to_xyz, spectra_to_lab
from greyscale.colorimetry.fluorescence import (
    credible_excitation,
    emission_curve,
    excitation,
    excitation_curve,
    print_to_lab,
    unknown_excitation,
)
from greyscale.colorimetry.light_quality import filtered, mix
from greyscale.colorimetry.lights import (
    Light,
    at_wavelengths,
    interpolate_power,
    light,
    luminous_power,
    series_light,
)
from greyscale.colorimetry.observers import NANOMETRES, colour_matching_functions
from greyscale.colorimetry.tristimulus import grid_white_point, spectra_to_xyz

WAVELENGTHS = np.arange(380.0, 731.0, 10.0)
GRID = np.arange(300.0, 831.0)


def emitted(source: Light) -> np.ndarray:
    """Radiance that a paper of known make emits: (absorbed UV) × (emission), at luminance 1.

    The closed form of the bispectral model: the excitation curve gives what is absorbed, a bell
    at 440 nm what is emitted, whatever the light.
    """
    nm, curve = excitation_curve()
    full = np.interp(nm, source.wavelengths, source.measured)
    absorbed = np.sum(curve * full) / np.sum(
        np.interp(NANOMETRES, source.wavelengths, source.measured)
        * colour_matching_functions("2")[:, 1]
    )
    return np.asarray(0.02 * absorbed * np.exp(-0.5 * ((WAVELENGTHS - 440) / 20) ** 2))


def irradiance(source: Light) -> np.ndarray:
    full = np.interp(NANOMETRES, source.wavelengths, source.measured)
    scale = np.sum(full * colour_matching_functions("2")[:, 1])
    return np.asarray(np.interp(WAVELENGTHS, source.wavelengths, source.measured) / scale)


def cut_of_ultraviolet() -> Light:
    source = light("D50")
    return filtered(source, np.array([400.0, 410.0]), np.array([0.0, 1.0]), "without UV")


@pytest.mark.parametrize("source", [light("A"), light("D65"), cut_of_ultraviolet()],
                         ids=lambda source: source.name)  # fmt: skip
def test_a_print_under_a_light_is_the_closed_form(source: Light) -> None:
    without = 0.85 + 0.0001 * (WAVELENGTHS - 380)
    measured_glow = emitted(light("D50")) / irradiance(light("D50"))
    # What is emitted has one shape, whatever excites it: so much of what D50 makes of it.
    share = emitted(source)[6] / emitted(light("D50"))[6]
    expected = spectra_to_xyz(without, WAVELENGTHS, source)
    expected = expected + share * spectra_to_xyz(measured_glow, WAVELENGTHS, "D50")
    predicted = print_to_lab(without + measured_glow, measured_glow, WAVELENGTHS, source)
    white = grid_white_point(WAVELENGTHS, source)
    np.testing.assert_allclose(lab_to_xyz(predicted, white), expected, rtol=2e-4)


def test_under_d50_the_print_is_what_m1_measured() -> None:
    without, glow = np.full(36, 0.8), 0.1 * np.exp(-0.5 * ((WAVELENGTHS - 440) / 20) ** 2)
    predicted = print_to_lab(without + glow, glow, WAVELENGTHS, "D50")
    measured = spectra_to_lab(without + glow, WAVELENGTHS, "D50")
    np.testing.assert_allclose(predicted, measured, atol=1e-10)
    assert excitation("D50") == 1.0


def test_incandescent_light_excites_less_and_daylight_more_than_d50() -> None:
    """A and D65 against D50 at equal luminance; common practice, no source."""
    assert excitation("A") < 0.5 < 1.0 < excitation("D65")
    assert excitation(cut_of_ultraviolet()) < 0.1  # some violet light excites too


def test_the_usual_emission_is_steep_below_its_peak_and_long_above() -> None:
    """Half its peak at 420 and at 482 nm (memory of the usual shape, not measured)."""
    assert emission_curve([440.0]) == pytest.approx(1.0)
    assert emission_curve([420.0, 482.4]) == pytest.approx([0.5, 0.5], abs=0.002)


def test_what_a_lamp_may_excite_below_its_table() -> None:
    assert unknown_excitation("D50") == unknown_excitation("A") == 0.0
    led = light("LED-B3")
    from_380 = unknown_excitation(led)
    assert 0.5 < from_380 < 1.0
    assert excitation(led) < 0.01
    behind = filtered(led, np.array([399.0, 400.0]), np.array([0.0, 1.0]), "behind a filter")
    assert unknown_excitation(behind) == pytest.approx(0.0, abs=1e-6)
    window = mix([(1, light("D65")), (1, led)])
    assert excitation(window) == pytest.approx((excitation("D65") + excitation(led)) / 2, rel=1e-3)
    assert unknown_excitation(window) == pytest.approx(from_380 / 2)
    assert window.begins == 380


def test_a_violet_pumped_light_hangs_on_where_the_excitation_lies() -> None:
    """D50 is where the glow is measured; a lamp that emits at the curve's steep end is not sure.

    LED-V1 peaks near 410 nm, where a shift of 8 nm makes half of the excitation and more.
    """
    assert credible_excitation("D50") == (1.0, 1.0)
    least, most = credible_excitation("LED-V1")
    assert least < excitation("LED-V1") < most
    assert most - least > 0.4 * excitation("LED-V1")
    least, most = credible_excitation("A")
    assert 0.02 < most - least < 0.25


@pytest.mark.parametrize("peak", [354.0, 362.0, 370.0])
@pytest.mark.parametrize("width", [19.0, 26.0, 34.0])
@pytest.mark.parametrize("begins", [300, 380, 400])
def test_daylight_excites_papers_of_many_kinds_as_much_as_is_said(
    begins: int, width: float, peak: float
) -> None:
    """Daylight of 7500 K behind a pane; the excitation is a Gaussian, the pane's edge logistic.

    Where a table begins late, daylight has more below it than D50 has.
    """
    nm = np.arange(300.0, 781.0)
    sky, D50 = series_light("daylight-7500K"), light("D50")
    assert sky is not None
    pane = 1 / (1 + np.exp((328 - nm) / 6))
    seen = at_wavelengths(sky, nm) * pane
    curve = np.exp(-0.5 * ((nm - peak) / width) ** 2) * (nm < 430)
    whole = Light("window", interpolate_power(nm, seen, linear=True), nm, seen)
    true = (seen @ curve / luminous_power(whole)) / (
        at_wavelengths(D50, nm) @ curve / luminous_power(D50)
    )
    known = nm >= begins
    cut = Light("window", whole.power, nm[known], seen[known])
    least, most = credible_excitation(cut)
    assert least - 0.02 < true < most + 0.02
    led = light("LED-B3")
    assert unknown_excitation(led) < 1.0 < unknown_excitation(cut) or begins == 300
