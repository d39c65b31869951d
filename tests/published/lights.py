"""White points, chromaticities, colour temperatures and rendering of lights."""

from __future__ import annotations

import colour
import numpy as np
from published.check import Check, triple
from published.figures import DISCHARGE, FLUORESCENT, LED, PUBLISHED_WHITES, WEIGHTS, table

from greyscale.colorimetry.light_quality import light_quality
from greyscale.colorimetry.lights import illuminant_names, light, series_light
from greyscale.colorimetry.tristimulus import WavelengthGrid, tristimulus_weights, white_point

WHITES = "White points"
CHROMATICITY = "Chromaticity of illuminants"
TEMPERATURE = "Colour temperature and rendering of illuminants"

E308 = "ASTM E308, table 5, 10 nm (memory)"
CIE15 = "CIE 15:2018 (memory)"
CIE15_TABLE = "CIE 15:2018, as tabulated in colour.CCS_ILLUMINANTS"
COMPUTED = "colour, from its spectra"

_OBSERVERS = {
    "2": "CIE 1931 2 Degree Standard Observer",
    "10": "CIE 1964 10 Degree Standard Observer",
}


def checks() -> list[Check]:
    return [*_whites(), *_weights(), *_chromaticities(), *_temperatures()]


def _whites() -> list[Check]:
    """X and Z; Y is 100 by definition."""
    return [
        one
        for (name, observer), expected in PUBLISHED_WHITES.items()
        for one in triple(
            WHITES, f"{name}, {observer}°", "X Z", expected[::2],
            white_point(name, observer)[::2], 0.02, E308, "memory",
        )
    ]  # fmt: skip


def _weights() -> list[Check]:
    """The entries are rounded to three decimals, and sum up to the rounded white point."""
    found = []
    for (name, observer, start), text in WEIGHTS.items():
        published = table(text)
        weights = tristimulus_weights(WavelengthGrid(start, 20.0, len(published)), name, observer)
        most = np.argmax(np.abs(weights - published), axis=0)[np.newaxis]
        end = start + 20 * (len(published) - 1)
        found += triple(
            "Weights for 20 nm",
            f"{name}, {observer}°, {start:.0f}-{end:.0f} nm: the entry that differs most",
            "W_x W_y W_z",
            *(np.take_along_axis(part, most, axis=0)[0] for part in (published, weights)),
            0.001,
            "ASTM E308-15, by way of the tests of colour",
        )
    return found


def _chromaticities() -> list[Check]:
    """x, y of what the program integrates, against tables that nobody here computed."""
    found = []
    for observer, title in _OBSERVERS.items():
        published = colour.CCS_ILLUMINANTS[title]
        for name in illuminant_names():
            theirs = name.replace("F", "FL", 1)
            # The CIE publishes FL1 to FL12 for 2° alone; what `colour` has for 10° is another's.
            if theirs not in published or (observer == "10" and theirs in FLUORESCENT):
                continue
            X, Y, Z = white_point(name, observer)
            xy = np.asarray(published[theirs])
            # What stands there with all digits `colour` has computed, from the same spectra.
            computed = bool(np.any(np.abs(xy - xy.round(5)) > 1e-12))
            source, kind = (COMPUTED, "second library") if computed else (CIE15_TABLE, "published")
            found += triple(
                CHROMATICITY, f"{name}, {observer}°", "x y", xy,
                (X / (X + Y + Z), Y / (X + Y + Z)), 0.0001, source, kind,
            )  # fmt: skip
    return found


def _temperatures() -> list[Check]:
    found = []
    for name, (kelvin, index) in FLUORESCENT.items():
        name = name.replace("FL", "F")
        quality = light_quality(light(name))
        # Published to 10 K and to whole numbers.
        found.append(_kelvin(name, kelvin, quality.correlated_colour_temperature, 6))
        rendering = quality.colour_rendering_index or 0.0
        found.append(Check(TEMPERATURE, f"{name}, Ra", index, rendering, 0.5, CIE15, "memory"))
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
            found.append(Check(TEMPERATURE, what, 100, rendering or 0.0, 0.05, source, "by hand"))
    for name, other in (("blackbody-2855.5K", "A"), ("daylight-6504K", "D65")):
        made = series_light(name)
        assert made is not None
        found += triple(
            TEMPERATURE, f"{name} is {other}", "X Y Z", white_point(other), white_point(made), 0.03,
            "CIE 15:2018, 4.1", "by hand",
        )  # fmt: skip
    return found


def _kelvin(name: str, published: float, found: float | None, tolerance: float) -> Check:
    what = f"{name}, CCT in K"
    return Check(TEMPERATURE, what, published, found or 0.0, tolerance, CIE15, "memory")
