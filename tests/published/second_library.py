"""All colorimetry by second, independent libraries, on 10 000 random smooth spectra."""

from __future__ import annotations

import warnings
from functools import lru_cache

import coloraide
import colorspacious
import colour
import numpy as np
from published.check import Check
from scipy.interpolate import CubicSpline

from greyscale.colorimetry.cielab import (
    chroma,
    delta_E_2000,
    delta_E_ab,
    hue_angle,
    lab_to_xyz,
    lightness,
    spectra_to_lab,
    visual_density,
    xyz_to_lab,
)
from greyscale.colorimetry.display import lab_to_srgb
from greyscale.colorimetry.illuminant_change import (
    adapt_cat16,
    colour_inconstancy,
)
from greyscale.colorimetry.observers import NANOMETRES
from greyscale.colorimetry.tristimulus import grid_white_point, spectra_to_xyz, white_point

GROUP = "Second libraries, 10 000 spectra: largest difference"
COUNT = 10_000
LIGHTS = {"D50": "D50", "A": "A", "F11": "FL11", "D65": "D65", "LED-B3": "LED-B3"}
OBSERVERS = {
    "2": "CIE 1931 2 Degree Standard Observer",
    "10": "CIE 1964 10 Degree Standard Observer",
}
TEN = np.arange(360.0, 831.0, 10.0)
FIVE = np.arange(360.0, 831.0, 5.0)


@lru_cache
def spectra() -> np.ndarray:
    """Give smooth reflectance factors at 1 nm, 0.02 to 0.95: sums of broad bells."""
    random = np.random.default_rng(2024)
    bells = np.zeros((COUNT, NANOMETRES.size))
    for _ in range(6):
        centres, widths, heights = (
            random.uniform(low, high, (COUNT, 1)) for low, high in ((340, 800), (60, 140), (-1, 1))
        )
        bells += heights * np.exp(-0.5 * ((NANOMETRES - centres) / widths) ** 2)
    return np.asarray(0.02 + 0.93 / (1 + np.exp(-bells - random.uniform(-2, 2, (COUNT, 1)))))


def checks() -> list[Check]:
    return [*_tristimulus(), *_cielab(), *_differences(), *_lights(), *_display()]


def _largest(what: str, ours: object, theirs: object, tolerance: float, source: str) -> Check:
    found = float(np.abs(np.asarray(ours) - np.asarray(theirs)).max())
    return Check(GROUP, what, 0.0, found, tolerance, source, "second library")


def _tristimulus() -> list[Check]:
    found = []
    for name, table in LIGHTS.items():
        for observer, title in OBSERVERS.items():
            exact = _sums(table, title)
            source = "sums at 1 nm over the tables of colour"
            for step, grid in (("10", TEN), ("5", FIVE)):
                ours = spectra_to_xyz(spectra()[:, :: int(step)], grid, name, observer)
                what = f"X, Y, Z from {step} nm, {name}, {observer}°"
                found.append(_largest(what, ours, exact, 0.02, source))
        weights = _weights_by_colour(table)
        ours = spectra_to_xyz(spectra()[:, ::10], TEN, name)
        what = f"X, Y, Z from 10 nm, {name}, 2°"
        found.append(
            _largest(what, ours, spectra()[:, ::10] @ weights, 0.02, "colour, ASTM E2022 weights")
        )
    return found


def _power(table: str) -> np.ndarray:
    """A light at 1 nm by nothing of the project: straight lines for daylight, else a spline."""
    light = colour.SDS_ILLUMINANTS[table]
    if table.startswith("D"):
        return np.interp(NANOMETRES, light.wavelengths, light.values, left=0, right=0)
    inside = (light.wavelengths[0] <= NANOMETRES) & (light.wavelengths[-1] >= NANOMETRES)
    return np.where(inside, CubicSpline(light.wavelengths, light.values)(NANOMETRES), 0.0)


def _sums(table: str, observer: str) -> np.ndarray:
    functions = colour.MSDS_CMFS[observer].copy().align(colour.SpectralShape(360, 830, 1)).values
    weights = _power(table)[:, np.newaxis] * functions
    return np.asarray(spectra() @ weights * (100 / weights[:, 1].sum()))


def _weights_by_colour(table: str) -> np.ndarray:
    cmfs = colour.MSDS_CMFS[OBSERVERS["2"]].copy().align(colour.SpectralShape(360, 830, 1))
    light = colour.SpectralDistribution(_power(table), NANOMETRES)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return np.asarray(
            colour.colorimetry.tristimulus_weighting_factors_ASTME2022(
                cmfs, light, colour.SpectralShape(360, 830, 10)
            )
        )


def _lab(source: str = "D50") -> np.ndarray:
    return spectra_to_lab(spectra()[:, ::10], TEN, source)


def _cielab() -> list[Check]:
    d50 = white_point("D50")
    xyz = spectra_to_xyz(spectra()[:, ::10], TEN, "D50")
    ours = xyz_to_lab(xyz, d50)
    space = {"name": "CIELab", "XYZ100_w": d50}
    white = colour.XYZ_to_xy(d50)
    polar = colour.models.Jab_to_JCh(ours)
    A_V = _power("A") * colour.MSDS_CMFS[OBSERVERS["2"]].values[:, 1]
    density = -np.log10(spectra() @ A_V / A_V.sum())
    return [
        _largest("CIELAB, D50", ours, colorspacious.cspace_convert(xyz, "XYZ100", space), 1e-9,
                 "colorspacious"),
        _largest("CIELAB, D50", ours, colour.XYZ_to_Lab(xyz / 100, white), 1e-6, "colour"),
        _largest("X, Y, Z from CIELAB", lab_to_xyz(ours, d50),
                 colorspacious.cspace_convert(ours, space, "XYZ100"), 1e-9, "colorspacious"),
        _largest("L* from Y", lightness(xyz[:, 1]),
                 colour.colorimetry.lightness_CIE1976(xyz[:, 1]), 1e-9, "colour"),
        _largest("chroma", chroma(ours[:, 1:]), polar[:, 1], 1e-9, "colour"),
        _largest("hue angle", (hue_angle(ours[:, 1:]) - polar[:, 2] + 180) % 360, 180, 1e-9,
                 "colour"),
        _largest("visual density from 10 nm", visual_density(spectra()[:, ::10], TEN), density,
                 5e-4, "sums at 1 nm over the tables of colour"),
    ]  # fmt: skip


def _differences() -> list[Check]:
    lab = _lab()
    other = np.roll(lab, 1, axis=0) * 0.2 + lab * 0.8
    found = []
    for name, ours, method, theirs in (
        ("CIEDE2000", delta_E_2000, "CIE 2000", "2000"),
        ("ΔE*ab", delta_E_ab, "CIE 1976", "76"),
    ):
        by_formula = colour.delta_E(lab, other, method=method)
        found.append(_largest(name, ours(lab, other), by_formula, 1e-9, "colour"))
        pairs = zip(lab.tolist(), other.tolist(), strict=True)
        # Its formulas take coordinates as they are, if they are called D65.
        by_pair = [
            coloraide.Color("lab-d65", a).delta_e(coloraide.Color("lab-d65", b), method=theirs)
            for a, b in pairs
        ]
        found.append(_largest(name, ours(lab, other), by_pair, 1e-9, "coloraide"))
    return found


def _lights() -> list[Check]:
    d50 = grid_white_point(TEN, "D50")
    xyz = spectra_to_xyz(spectra()[:, ::10], TEN, "D50")
    found = []
    for name in ("A", "F11", "LED-B3"):
        white = grid_white_point(TEN, name)
        under = spectra_to_xyz(spectra()[:, ::10], TEN, name)
        adapted = colour.adaptation.chromatic_adaptation_VonKries(
            under, white, d50, transform="CAT16"
        )
        own = adapt_cat16(under, white, d50)
        found.append(_largest(f"CAT16, {name} to D50", own, adapted, 1e-4, "colour"))
        changed = colour.delta_E(_lab_by(adapted, d50), _lab_by(xyz, d50), method="CIE 2000")
        what = f"colour inconstancy, {name}"
        ours = colour_inconstancy(xyz, under, d50, white)
        found.append(_largest(what, ours, changed, 1e-5, "colour, step by step"))
    return found


def _lab_by(xyz: np.ndarray, white: np.ndarray) -> np.ndarray:
    return np.asarray(colour.XYZ_to_Lab(xyz / 100, colour.XYZ_to_xy(white)))


def _display() -> list[Check]:
    lab = _lab()
    rgb, clipped = lab_to_srgb(lab)
    inside = lab[~clipped][:3000]
    theirs = [coloraide.Color("lab", one).convert("srgb").coords() for one in inside.tolist()]
    # The whites differ in the fourth digit: E308's D50 here, x .3457, y .3585 there.
    ours = 255 * rgb[~clipped][:3000]
    return [_largest("sRGB of CIELAB (of 255)", ours, 255 * np.array(theirs), 0.02, "coloraide")]
