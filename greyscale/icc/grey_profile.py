"""A reading as a monochrome output profile: for soft proofs that show the cast."""

from __future__ import annotations

import numpy as np

from greyscale.analysis.ramp import ramp_of
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import lab_to_xyz, luminance, xyz_to_lab
from greyscale.icc.lut16 import Lut16, encode_lab, lut16_tag, straight
from greyscale.icc.profile import PCS_ILLUMINANT, Profile
from greyscale.icc.simple_tags import (
    NOT_STATED,
    copyright_text,
    curve_tag,
    text_description,
    xyz_tag,
)
from greyscale.readings.reading import Reading

GRID_POINTS = 255
"""Points of the one-dimensional grid: as many as a lut16 may have."""
CURVE_POINTS = 1021


def grey_profile(
    reading: Reading, version: tuple[int, int] = (4, 3), rights: str = NOT_STATED
) -> Profile:
    """Make a monochrome output profile of a reading's ramp.

    The tables give the print's CIELAB, media-relative, so that a soft proof shows its cast; for
    the absolute one the media white is there. Programs without tables use the grey curve.

    Parameters
    ----------
    reading
        A reading of a ramp, CIELAB for D50.
    version
        (4, 3), or (2, 4); only the latter has a black point tag.
    rights
        What the profile says of its copyright.
    """
    ramp = ramp_of(reading)
    order = np.argsort(ramp.level)
    level, lab = ramp.level[order], ramp.lab()[order]
    white = 100 * np.array(PCS_ILLUMINANT)
    paper = lab_to_xyz(ramp.lab()[ramp.paper_index], white)
    relative = xyz_to_lab(lab_to_xyz(lab, white) / paper * white, white)
    table = lut16_tag(
        Lut16(straight(1), encode_lab(_smooth(level, relative, GRID_POINTS)), straight(3))
    )
    Y = luminance(_smooth(level, relative, CURVE_POINTS)[:, 0]) / 100
    tags = {
        "desc": text_description(f"{reading.name} (grey, for soft proofs)", version),
        "cprt": copyright_text(rights, version),
        "wtpt": xyz_tag(paper / 100),
        "kTRC": curve_tag(np.maximum.accumulate(Y)),
        "A2B0": table,
        "A2B1": table,
    }
    if version[0] < 4:
        tags["bkpt"] = xyz_tag(lab_to_xyz(ramp.lab()[ramp.black_index], white) / 100)
    return Profile(version, "prtr", "GRAY", "Lab ", 1, None, tags)


def _smooth(level: Array, lab: Array, points: int) -> Array:
    """Give the ramp's CIELAB at even levels, without overshoot between the measured tones."""
    from scipy.interpolate import PchipInterpolator

    at = np.linspace(0.0, 1.0, points)
    held = np.clip(at, level[0], level[-1])
    return np.asarray(PchipInterpolator(level, lab, axis=0)(held))
