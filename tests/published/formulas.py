"""Formulas against the figures that their sources print."""

from __future__ import annotations

import numpy as np
from published.check import Check, triple
from published.figures import FLOW_RATE, MOISTURE, PAIRS

from greyscale.aims.neutral import neutral_aim
from greyscale.aims.tone import tone_aim
from greyscale.analysis.control_chart import control_chart
from greyscale.charts.page import Sheet, page_size
from greyscale.colorimetry.cielab import (
    delta_Ch,
    delta_E_2000,
    density_from_lightness,
    lightness,
    luminance,
    visual_density,
)
from greyscale.colorimetry.fluorescence import excitation_curve
from greyscale.icc.tables import encode_lab

SHARMA = "Sharma, Wu and Dalal (2005), Color Res. Appl. 30(1), table 1"
NIST = "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (memory)"
ISO_8258 = "ISO 8258:1991 and ISO 7870-2, moisture of skim milk powder (memory)"


def checks() -> list[Check]:
    return [
        *_differences(),
        *_cielab(),
        *_aims(),
        *_statistics(),
        *_pages(),
        *_profiles(),
        *_brightener(),
    ]


def _brightener() -> list[Check]:
    """Stilbene brighteners absorb broadly around 350-380 nm and hardly beyond 420 nm."""
    group, source = "Brightener", "usual stilbene brighteners (memory)"
    nanometres, curve = excitation_curve()
    peak = float(nanometres[int(np.argmax(curve))])
    beyond = float(curve[nanometres > 420].sum() / curve.sum())
    return [
        Check(group, "excitation: where it is strongest, nm", 365, peak, 15, source, "memory"),
        Check(group, "excitation: share beyond 420 nm", 0.0, beyond, 0.03, source, "memory"),
    ]


def _differences() -> list[Check]:
    group = "Colour differences"
    pairs = [
        Check(
            group,
            f"CIEDE2000, pair {number}",
            pair[6],
            float(delta_E_2000(pair[:3], pair[3:6])),
            1e-4,
            SHARMA,
        )
        for number, pair in enumerate(PAIRS, start=1)
    ]
    by_hand = float(delta_Ch([20, 5, 12], [90, 0, 0]))
    return [
        *pairs,
        Check(group, "ΔCh of Δa* 5, Δb* 12", 13.0, by_hand, 1e-12, "ISO 12647-7:2016", "by hand"),
    ]


def _cielab() -> list[Check]:
    group, source = "CIELAB and density", "CIE 15:2018, 8.2.1"
    iso5 = "ISO 5-3:2009"
    wavelengths = np.arange(380.0, 731.0, 10.0)
    return [
        Check(
            group, "L* of Y 18.4187", 50.0, float(lightness(18.41865185)), 1e-6, source, "by hand"
        ),
        Check(
            group,
            "L* of Y 18, middle grey",
            49.496,
            float(lightness(18.0)),
            5e-4,
            source,
            "by hand",
        ),
        Check(
            group,
            "L* of Y 0.8856, where the line begins",
            8.0,
            float(lightness(0.885645)),
            1e-4,
            source,
            "by hand",
        ),
        Check(
            group,
            "L* of Y 0.1, on the line",
            0.9033,
            float(lightness(0.1)),
            5e-5,
            source,
            "by hand",
        ),
        Check(
            group,
            "density of a flat 1 %",
            2.0,
            float(visual_density(np.full(36, 0.01), wavelengths)),
            1e-9,
            iso5,
            "by hand",
        ),
        Check(
            group,
            "density of a flat 18 %",
            0.7447,
            float(visual_density(np.full(36, 0.18), wavelengths)),
            5e-5,
            iso5,
            "by hand",
        ),
        Check(
            group,
            "-log10(Y/100) of L* 50",
            0.7347,
            float(density_from_lightness(50.0)),
            5e-5,
            iso5,
            "by hand",
        ),
    ]


def _aims() -> list[Check]:
    group = "Aims and tolerances"
    srgb = "IEC 61966-2-1:1999"
    iso_2 = "ISO 12647-2:2013, 4.2.8 (memory)"
    high = "High, Nussbaum and Green (2023), J. Imaging Sci. Technol. 67(5)"
    paper, black = [95.0, 1.0, -4.0], [16.0, 0.4, 0.2]

    def decoded(name: str, value: float) -> float:
        return float(luminance(tone_aim(name).target(value, 0.0, 100.0, "none")))

    return [
        Check(
            group, "sRGB 0.5, luminance in %", 21.404, decoded("srgb", 0.5), 5e-4, srgb, "by hand"
        ),
        Check(
            group,
            "sRGB 0.04045, luminance in %",
            0.31308,
            decoded("srgb", 0.04045),
            5e-6,
            srgb,
            "by hand",
        ),
        Check(
            group,
            "sRGB 128 of 255, luminance in %",
            21.586,
            decoded("srgb", 128 / 255),
            5e-4,
            srgb,
            "by hand",
        ),
        Check(
            group,
            "gamma 2.2 of 0.5, luminance in %",
            21.764,
            decoded("gamma-2.2", 0.5),
            5e-4,
            "0.5 to the power of 2.2",
            "by hand",
        ),
        Check(
            group,
            "gamma 1.8 of 0.5, luminance in %",
            28.717,
            decoded("gamma-1.8", 0.5),
            5e-4,
            "0.5 to the power of 1.8",
            "by hand",
        ),
        Check(
            group,
            "fading aim: share of the paper's tint at L* 55.5",
            0.575,
            float(neutral_aim("fading", 55.5, paper, black)[0]),
            1e-12,
            iso_2,
            "by hand",
        ),
        Check(
            group,
            "fading aim: share of the paper's tint at black",
            0.15,
            float(neutral_aim("fading", 16.0, paper, black)[0]),
            1e-12,
            iso_2,
            "by hand",
        ),
        Check(
            group,
            "adapting aim: share of the paper's tint at L* 50",
            0.31220,
            float(neutral_aim("adapting", 50.0, paper, black)[0]),
            5e-6,
            high,
            "by hand",
        ),
    ]


def _statistics() -> list[Check]:
    group = "Control charts"
    flow, moisture = control_chart(FLOW_RATE), control_chart(MOISTURE)
    return [
        Check(group, "flow rate: centre", 50.81, flow.centre, 5e-3, NIST, "memory"),
        Check(group, "flow rate: mean moving range", 1.8778, flow.mean_range, 5e-5, NIST, "memory"),
        Check(group, "flow rate: upper limit", 55.8041, flow.upper, 2e-4, NIST, "memory"),
        Check(group, "flow rate: lower limit", 45.8159, flow.lower, 2e-4, NIST, "memory"),
        Check(group, "flow rate: points out of control", 0, len(flow.signals), 0, NIST, "memory"),
        Check(group, "moisture: centre", 3.45, moisture.centre, 5e-3, ISO_8258, "memory"),
        Check(
            group,
            "moisture: mean moving range",
            0.38,
            moisture.mean_range,
            5e-3,
            ISO_8258,
            "memory",
        ),
        Check(group, "moisture: upper limit", 4.46, moisture.upper, 1e-2, ISO_8258, "memory"),
        Check(group, "moisture: lower limit", 2.44, moisture.lower, 1e-2, ISO_8258, "memory"),
        Check(
            group,
            "moisture: upper limit of the range",
            1.24,
            moisture.upper_range,
            1e-2,
            ISO_8258,
            "memory",
        ),
    ]


def _pages() -> list[Check]:
    sheet = Sheet(page_size("a4"), 300, margin_mm=8.0, head_mm=0.0, foot_mm=0.0)
    size, source = (sheet.width, sheet.height), "210 and 297 mm (ISO 216:2007) / 25.4 * 300"
    return triple(
        "Pages", "a4 at 300 dpi, pixels", "width height", (2480, 3508), size, 0, source, "by hand"
    )


def _profiles() -> list[Check]:
    group = "ICC profiles"
    v2 = "ICC.1:2001-04, lut16 encoding of CIELAB (memory)"
    white = (65535 * encode_lab([100.0, 0.0, 0.0])).round()
    return [
        Check(group, "L* 100 in a lut16", 0xFF00, float(white[0]), 0, v2, "memory"),
        Check(group, "a* 0 in a lut16", 0x8000, float(white[1]), 0, v2, "memory"),
    ]
