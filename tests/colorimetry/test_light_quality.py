"""Colour temperature, Duv, rendering and ultraviolet of lights against published figures."""

from __future__ import annotations

import math

import colour
import numpy as np
import pytest
from published.figures import DISCHARGE, FLUORESCENT, LED

from greyscale.colorimetry.light_quality import filtered, light_quality, mix, ultraviolet_per_lumen
from greyscale.colorimetry.lights import (
    Light,
    UnknownLight,
    interpolate_power,
    light,
    luminous_power,
    series_light,
)
from greyscale.colorimetry.observers import NANOMETRES
from greyscale.colorimetry.tristimulus import white_point


@pytest.mark.parametrize("name", FLUORESCENT)
def test_fluorescent_illuminants_have_their_published_temperature_and_index(name: str) -> None:
    temperature, index = FLUORESCENT[name]
    quality = light_quality(light(name))
    assert quality.correlated_colour_temperature == pytest.approx(temperature, abs=6)
    # Published to whole numbers: FL8 gives 95.496 for 95.
    assert quality.colour_rendering_index == pytest.approx(index, abs=0.5)


@pytest.mark.parametrize("name", LED)
def test_led_illuminants_have_their_published_temperature(name: str) -> None:
    found = light_quality(light(name)).correlated_colour_temperature
    assert found == pytest.approx(LED[name], abs=1)


@pytest.mark.parametrize("name", DISCHARGE)
def test_discharge_illuminants_have_their_published_temperature(name: str) -> None:
    """HP1 differs by 3.4 K, 0.2 %: its lines are tabulated every 5 nm."""
    found = light_quality(light(name)).correlated_colour_temperature
    assert found == pytest.approx(DISCHARGE[name], rel=0.002)


@pytest.mark.parametrize("name", ["D50", "D65", "FL2", "LED-B3", "LED-RGB1"])
def test_duv_is_the_distance_from_the_planckian_locus(name: str) -> None:
    """ANSI C78.377: the shortest distance in CIE 1960 u, v; here by search along Planck's law."""
    kelvin = np.arange(2000.0, 8000.0, 2.0)[:, None]
    metres = NANOMETRES * 1e-9
    planck = metres**-5 / np.expm1(0.014388 / (metres * kelvin))
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].values

    def uv(xyz: np.ndarray) -> np.ndarray:
        X, Y, Z = np.moveaxis(xyz, -1, 0)
        return np.stack([4 * X, 6 * Y], axis=-1) / (X + 15 * Y + 3 * Z)[..., None]

    locus = uv(planck @ cmfs)
    here = uv(white_point(name))
    nearest = np.argmin(np.linalg.norm(locus - here, axis=1))
    distance = np.linalg.norm(locus[nearest] - here)
    sign = np.sign(here[1] - locus[nearest][1])
    quality = light_quality(light(name))
    assert quality.duv == pytest.approx(sign * distance, abs=2e-5)
    assert quality.correlated_colour_temperature == pytest.approx(kelvin[nearest, 0], rel=5e-4)


@pytest.mark.parametrize("name", ["A", "D50", "D65"])
def test_reference_lights_render_perfectly(name: str) -> None:
    """CIE 13.3 and CIE 224: a reference illuminant scores 100."""
    quality = light_quality(light(name))
    assert quality.colour_rendering_index == pytest.approx(100, abs=0.05)
    assert quality.colour_fidelity_index == pytest.approx(100, abs=0.05)


def test_a_light_far_from_the_locus_has_no_temperature() -> None:
    power = np.exp(-0.5 * ((NANOMETRES - 530) / 10) ** 2)
    quality = light_quality(Light("green", power, NANOMETRES, power))
    assert quality.correlated_colour_temperature is None
    assert quality.colour_rendering_index is None


def test_incandescent_ultraviolet_is_what_museums_know() -> None:
    """About 75 µW/lm for tungsten: common practice, no source."""
    ultraviolet, known_from = ultraviolet_per_lumen(light("A"))
    assert ultraviolet == pytest.approx(75, abs=3)
    assert known_from == 315


def test_blackbody_and_daylight_series() -> None:
    """CIE 15:2018: A is the blackbody of 2856 K (c2 = 1.435e-2 / 2848 K), D65 of 6504 K."""
    blackbody = series_light("blackbody-2855.5K")
    daylight = series_light("Daylight-6504K")
    assert blackbody is not None
    assert daylight is not None
    np.testing.assert_allclose(white_point(blackbody), white_point("A"), atol=0.01)
    np.testing.assert_allclose(white_point(daylight), white_point("D65"), atol=0.03)
    with pytest.raises(UnknownLight, match="4000 K to 25000 K"):
        series_light("daylight-2000K")
    with pytest.raises(UnknownLight, match="a colour temperature is written 3000K"):
        light("3000")


@pytest.mark.parametrize("begins", [340.0, 380.0])
@pytest.mark.parametrize("step", [3.7, 5.0, 10.0])
@pytest.mark.parametrize(("peak", "width"), [(405.0, 9.0), (418.0, 6.0), (452.0, 20.0)])
def test_a_floor_of_ultraviolet_lies_below_what_the_lamp_has(
    peak: float, width: float, step: float, begins: float
) -> None:
    """Whatever the step, beside the violet flank of a Gaussian band, whose integral is erf's."""
    nm = np.arange(begins, 781.0, step)
    band, white = (
        np.exp(-0.5 * ((nm - at) / wide) ** 2) for at, wide in ((peak, width), (570.0, 40.0))
    )
    power = interpolate_power(nm, band + white)
    found, known_from = ultraviolet_per_lumen(Light("lamp", power, nm, band + white))
    low, high = (math.erf((at - peak) / width / math.sqrt(2)) for at in (315.0, 400.0))
    watts = width * math.sqrt(math.pi / 2) * (high - low)
    true = 1e6 / 683 * watts / luminous_power(Light("lamp", power, nm, band + white))
    assert known_from == begins
    assert found is not None
    assert 0.6 * true < found < 1.001 * true + 0.05  # the white's own flank is left out of "true"


@pytest.mark.parametrize(("series", "least"), [("daylight", 4000), ("blackbody", 1000)])
def test_a_series_ends_where_it_is_said_to_end(series: str, least: int) -> None:
    """CIE 15:2018, 4.1.2, for daylight; the ends themselves belong to it."""
    for kelvin in (least, 25_000):
        assert series_light(f"{series}-{kelvin}K") is not None
    for kelvin in (least - 1, 25_001):
        with pytest.raises(UnknownLight, match=f"{least} K to 25000 K"):
            series_light(f"{series}-{kelvin}K")


def test_a_mixture_by_illuminance_has_the_mean_white_point() -> None:
    """At equal Y tristimulus values add: Grassmann's laws (CIE 15)."""
    mixture = mix([(3, light("D65")), (1, light("A"))])
    expected = 0.75 * white_point("D65") + 0.25 * white_point("A")
    np.testing.assert_allclose(white_point(mixture), expected, atol=1e-9)
    assert mixture.name == "75%D65+25%A"
    with pytest.raises(ValueError, match="positive"):
        mix([(0, light("A"))])


def test_dimming_a_light_changes_nothing_and_a_filter_multiplies() -> None:
    source = light("D50")
    grey = Light("dimmed", source.power * 0.01, source.wavelengths, source.measured * 0.01)
    np.testing.assert_allclose(white_point(grey), white_point("D50"), atol=1e-12)
    cut = filtered(source, np.array([400.0, 401.0]), np.array([0.0, 1.0]), "behind a filter")
    assert ultraviolet_per_lumen(cut)[0] == 0
    assert luminous_power(cut) == pytest.approx(luminous_power(source), rel=1e-4)
