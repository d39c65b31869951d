"""Published measurements: the greys of charts, and the ramps of a printing condition."""

from __future__ import annotations

from pathlib import Path

import colour
import numpy as np
from published.check import Check, triple

from greyscale.analysis.analyse import analyse
from greyscale.colorimetry.cielab import spectra_to_lab, xyz_to_lab
from greyscale.readings.formats import read

FILE = Path(__file__).parents[2] / "sample_measurements" / "tr006-grey.txt"
TR006 = "ANSI CGATS TR 006-2007, its table"
GREYS = "measured greys of a colour chart, from colour"


def checks() -> list[Check]:
    # Chart data sets of which both spectra and colours are there; two keys may name one set.
    both = {
        id(colour.CCS_COLOURCHECKERS[key].data): key
        for key in colour.SDS_COLOURCHECKERS
        if key in colour.CCS_COLOURCHECKERS
    }
    return [one for key in both.values() for one in _greys(key)] + _ramps()


def _greys(key: str) -> list[Check]:
    """CIELAB from the spectra of six greys, against their published x, y, Y.

    Both are rounded: the reflectances to three decimals, one part in 30 of the black's. So the
    tolerance goes with what half a last digit in every value, of either sign, does: three standard
    deviations of that, and the whole of half a digit in x, y, Y.
    """
    spectra, published = colour.SDS_COLOURCHECKERS[key], colour.CCS_COLOURCHECKERS[key]
    white = 100 * colour.xy_to_XYZ(published.illuminant)
    found = []
    for position, name in enumerate(list(spectra)[-6:], start=1):
        values, wavelengths = spectra[name].values, spectra[name].wavelengths
        own = spectra_to_lab(values, wavelengths)
        theirs = xyz_to_lab(100 * colour.xyY_to_XYZ(published.data[name]), white)
        rounding = np.random.default_rng(0).uniform(-0.0005, 0.0005, (500, values.size))
        allowed = 3 * (spectra_to_lab(values + rounding, wavelengths) - own).std(axis=0) + 0.02
        for axis, expected, value, tolerance in zip(
            ("L*", "a*", "b*"), theirs, own, allowed, strict=True
        ):
            what = f"grey {position}, {axis} from its spectrum"
            figures = (float(expected), float(value), float(tolerance))
            found.append(Check("Greys of a chart", what, *figures, GREYS))
    return found


def _ramps() -> list[Check]:
    """What the table prints, and what follows from it by hand."""
    group = "Ramps of a printing condition"
    black, three = analyse(read(FILE, ramp="K")), analyse(read(FILE, ramp="CMY"))
    (cast,) = three.neutrality.casts
    # C = M = Y = 55: L* 49.89, a* 5.93, b* 4.15; paper 95, -0.02, -1.96; black L* 23.
    kept = 1 - 0.85 * (95 - 49.89) / 72
    delta = np.array([5.93 + 0.02 * kept, 4.15 + 1.96 * kept])
    by_hand = f"{TR006}, and the fading aim by hand"
    return [
        *triple(group, "paper", "L* a* b*", (95.0, -0.02, -1.96), black.paper, 1e-9, TR006),
        Check(group, "black ink alone: patches", 21, len(black.patches), 0, TR006),
        Check(group, "equal C, M, Y: patches", 11, len(three.patches), 0, TR006),
        Check(group, "black ink alone: L* of solid", 14.95, float(black.black[0]), 1e-9, TR006),
        Check(group, "equal C, M, Y: level of the cast's peak", 0.45, cast.peak_level, 1e-9,
              by_hand, "by hand"),
        Check(group, "equal C, M, Y: ΔCh of the cast's peak", float(np.hypot(*delta)),
              cast.peak_delta_Ch, 1e-4, by_hand, "by hand"),
        Check(group, "equal C, M, Y: hue angle of the cast",
              float(np.degrees(np.arctan2(delta[1], delta[0]))), cast.hue_angle, 1e-2, by_hand,
              "by hand"),
    ]  # fmt: skip
