"""White points, chromaticities, colour temperatures and rendering of lights."""

from __future__ import annotations

import colour
from published.check import Check, triple
from published.figures import DISCHARGE, FLUORESCENT, LED, PUBLISHED_WHITES

from greyscale.colorimetry.light_quality import light_quality
from greyscale.colorimetry.lights import illuminant_names, light, series_light
from greyscale.colorimetry.tristimulus import white_point

WHITES = "White points"
CHROMATICITY = "Chromaticity of illuminants"
TEMPERATURE = "Colour temperature and rendering of illuminants"

E308 = "ASTM E308, table 5, 10 nm (memory)"
CIE15 = "CIE 15:2018 (memory)"
CIE15_TABLE = "CIE 15:2018, as tabulated in colour.CCS_ILLUMINANTS"

_OBSERVERS = {
    "2": "CIE 1931 2 Degree Standard Observer",
    "10": "CIE 1964 10 Degree Standard Observer",
}


def checks() -> list[Check]:
    return [*_whites(), *_chromaticities(), *_temperatures()]


def _whites() -> list[Check]:
    return [
        one
        for (name, observer), expected in PUBLISHED_WHITES.items()
        for one in triple(
            WHITES, f"{name}, {observer}°", "X Y Z", expected, white_point(name, observer), 0.02,
            E308,
        )
    ]  # fmt: skip


def _chromaticities() -> list[Check]:
    """x, y of what the program integrates, against tables that nobody here computed."""
    found = []
    for observer, title in _OBSERVERS.items():
        published = colour.CCS_ILLUMINANTS[title]
        for name in illuminant_names():
            # The CIE publishes FL1 to FL12 for 2° alone; what `colour` has for 10° is another's.
            if name not in published or (observer == "10" and name in FLUORESCENT):
                continue
            X, Y, Z = white_point(name, observer)
            found += triple(
                CHROMATICITY, f"{name}, {observer}°", "x y", published[name],
                (X / (X + Y + Z), Y / (X + Y + Z)), 0.0001, CIE15_TABLE,
            )  # fmt: skip
    return found


def _temperatures() -> list[Check]:
    found = []
    for name, (kelvin, index) in FLUORESCENT.items():
        quality = light_quality(light(name))
        # Published to 10 K and to whole numbers.
        found.append(_kelvin(name, kelvin, quality.correlated_colour_temperature, 6))
        rendering = quality.colour_rendering_index or 0.0
        found.append(Check(TEMPERATURE, f"{name}, Ra", index, rendering, 0.5, CIE15))
    for name, kelvin in LED.items():
        quality = light_quality(light(name))
        found.append(_kelvin(name, kelvin, quality.correlated_colour_temperature, 1))
    for name, kelvin in DISCHARGE.items():
        # Of lines tabulated every 5 nm.
        temperature = light_quality(light(name)).correlated_colour_temperature
        found.append(_kelvin(name, kelvin, temperature, 0.002 * kelvin))
    for name in ("A", "D50", "D65"):
        quality = light_quality(light(name))
        for index_name, rendering, source in (
            ("Ra", quality.colour_rendering_index, "CIE 13.3-1995"),
            ("Rf", quality.colour_fidelity_index, "CIE 224:2017"),
        ):
            what = f"{name}, {index_name}: a reference light renders perfectly"
            found.append(Check(TEMPERATURE, what, 100, rendering or 0.0, 0.05, source))
    for name, other in (("blackbody-2855.5K", "A"), ("daylight-6504K", "D65")):
        made = series_light(name)
        assert made is not None
        found += triple(
            TEMPERATURE, f"{name} is {other}", "X Y Z", white_point(other), white_point(made), 0.03,
            "CIE 15:2018, 4.1",
        )  # fmt: skip
    return found


def _kelvin(name: str, published: float, found: float | None, tolerance: float) -> Check:
    return Check(TEMPERATURE, f"{name}, CCT in K", published, found or 0.0, tolerance, CIE15)
