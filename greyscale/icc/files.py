"""Which profile files a correction comes with, and how they are written."""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from greyscale.analysis.picture import smooth_scale
from greyscale.analysis.ramp import ramp_of
from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.colorimetry.arrays import Array, equal_channels
from greyscale.colorimetry.cielab import lab_to_xyz, luminance, xyz_to_lab
from greyscale.correction.record import Correction, Evidence
from greyscale.icc.amend import INTENTS, LEAST_REACH, Amendment, Forward, Printer, amend
from greyscale.icc.profile import (
    NOT_STATED,
    PCS_ILLUMINANT,
    Profile,
    copyright_text,
    curve_tag,
    profile_bytes,
    read_profile,
    text_description,
    xyz_tag,
)
from greyscale.icc.tables import encode_lab, lut16_tag, straight
from greyscale.printer.model import PrinterModel, fit
from greyscale.readings.reading import Reading

# A correction as a device link: RGB in, RGB for the printer out.

CURVE_ENTRIES = 4081
"""16 · 255 + 1 points: each 8-bit value lies on one, and on a correction's own points."""


def device_link(
    correction: Correction, version: tuple[int, int] = (4, 3), rights: str = NOT_STATED
) -> Profile:
    """Make a device link of a correction's curve.

    Each channel goes through its own curve, as in the 1D LUT.

    Parameters
    ----------
    correction
        The correction.
    version
        (4, 3), or (2, 4) for programs that read no v4.
    rights
        What the profile says of its copyright.
    """
    level = np.linspace(0.0, 1.0, CURVE_ENTRIES)
    curves = correction.curve.apply(equal_channels(level)).T
    corners = np.stack(np.meshgrid([0.0, 1.0], [0.0, 1.0], [0.0, 1.0], indexing="ij"), axis=-1)
    table = lut16_tag(curves, corners, straight(3))
    name = f"{correction.name} (grey correction)"
    # Two nameless steps (ISO 15076-1, 10.19).
    step = bytes(4 + 4 + 8 + 4) + 2 * text_description(name, version)
    return Profile(
        version=version,
        device_class="link",
        colour_space="RGB ",
        connection_space="RGB ",
        intent=0,
        header=None,
        tags={
            "desc": text_description(name, version),
            "cprt": copyright_text(rights, version),
            "pseq": b"pseq\0\0\0\0" + struct.pack(">I", 2) + 2 * step,
            "A2B0": table,
        },
    )


# A reading as a monochrome output profile: for soft proofs that show the cast.

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
    white = 100 * np.array(PCS_ILLUMINANT)
    paper = lab_to_xyz(ramp.lab()[ramp.paper_index], white)
    relative = xyz_to_lab(lab_to_xyz(ramp.lab(), white) / paper * white, white)

    def scale(points: int) -> Array:
        return smooth_scale(ramp.level, relative, np.linspace(0.0, 1.0, points))

    table = lut16_tag(straight(1), encode_lab(scale(GRID_POINTS)), straight(3))
    Y = luminance(scale(CURVE_POINTS)[:, 0]) / 100
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


# The printer that an amended profile is for, from the evidence of its readings.

LEVELS = 129
"""Levels at which the model is tabulated: a step is two 8-bit code values."""

BESIDE = 7
"""Steps beside the axis, in each of the two differences between channels."""


def measured_printer(model: PrinterModel, evidence: Evidence) -> Printer:
    """Return the printer as its model has it, trusted as far as near-neutral patches reach.

    Parameters
    ----------
    model
        Fitted to the evidence.
    evidence
        Readings of charts printed with the profile's driver settings, colour management off.
    """
    spread = np.ptp(evidence.device, axis=1)
    beside = spread[spread > 1e-4]
    reach = max(LEAST_REACH, float(np.median(beside)) if beside.size else 0.0)
    return Printer(tabulated(model.lab, reach), evidence.paper, reach)


def tabulated(lab: Forward, reach: float) -> Forward:
    """Tabulate a model near the grey axis, so that the many points of a profile cost little.

    By mean level, R less G and G less B; straight between, held beyond the reach.
    """
    from scipy.interpolate import RegularGridInterpolator

    level = np.linspace(0.0, 1.0, LEVELS)
    difference = np.linspace(-reach, reach, BESIDE)
    m, u, v = np.meshgrid(level, difference, difference, indexing="ij")
    G = m + (v - u) / 3
    device = np.stack([G + u, G, G - v], axis=-1).reshape(-1, 3)
    table = lab(np.clip(device, 0.0, 1.0)).reshape(*m.shape, 3)
    interpolator = RegularGridInterpolator((level, difference, difference), table)

    def forward(values: Array) -> Array:
        R, G, B = values[:, 0], values[:, 1], values[:, 2]
        beside = np.clip(np.stack([R - G, G - B], axis=-1), -reach, reach)
        at = np.concatenate([np.clip(values.mean(axis=1), 0, 1)[:, np.newaxis], beside], axis=1)
        return np.asarray(interpolator(at))

    return forward


VERSIONS = {"v4": (4, 3), "v2": (2, 4)}
"""Both are written: v4 for whatever reads it, v2 for what does not."""

AMENDED = "amended.icc"


def write_links(correction: Correction, folder: Path, rights: str = NOT_STATED) -> tuple[str, ...]:
    """Write the device links of a correction; return the files' names."""
    return _both(folder, "link", lambda version: device_link(correction, version, rights))


def write_grey_profiles(
    reading: Reading, folder: Path, rights: str = NOT_STATED
) -> tuple[str, ...]:
    """Write the monochrome profiles of a reading, for soft proofs; return the files' names."""
    return _both(folder, "grey", lambda version: grey_profile(reading, version, rights))


def _both(folder: Path, name: str, make: Callable[[tuple[int, int]], Profile]) -> tuple[str, ...]:
    names = []
    for label, version in VERSIONS.items():
        names.append(f"{name}-{label}.icc")
        write_whole(folder / names[-1], profile_bytes(make(version)))
    return tuple(names)


def amend_profile(
    correction: Correction,
    path: Path | str,
    intents: Sequence[str] = (),
    rights: str | None = None,
) -> tuple[bytes, tuple[Amendment, ...]]:
    """Make an output profile anew whose greys print neutral, by what a correction knows.

    Parameters
    ----------
    correction
        From charts that went straight to the printer, with the profile's driver settings.
    path
        The profile.
    intents
        Names of `INTENTS` to amend; none given are all.
    rights
        What the new profile says of its copyright; by default what the old one says.

    Raises
    ------
    BadInput
        If the charts did not go straight to the printer, or the profile cannot be amended.
    """
    if correction.space != "device":
        raise BadInput(
            f"the charts went through {correction.space}, and a profile is amended from charts "
            "that went straight to the printer, colour management off",
            "--amend",
        )
    evidence = correction.evidence
    # A model of the grey axis alone supposes the answers beside it.
    known = correction.model if evidence.told is evidence else None
    printer = measured_printer(known or fit(evidence), evidence)
    note = f"grey amended: {correction.name}"
    made, amendments = amend(
        read_profile(path),
        printer,
        path,
        intents=intents or tuple(INTENTS),
        note=note,
        rights=rights,
    )
    return profile_bytes(made), amendments
