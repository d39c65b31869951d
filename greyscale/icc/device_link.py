"""A correction as a device link: RGB in, RGB for the printer out."""

from __future__ import annotations

import struct

import numpy as np

from greyscale.correction.record import Correction
from greyscale.icc.lut16 import Lut16, lut16_tag, straight
from greyscale.icc.profile import Profile
from greyscale.icc.simple_tags import NOT_STATED, copyright_text, text_description

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
    curves = correction.curve.apply(np.repeat(level[:, np.newaxis], 3, axis=1)).T
    corners = np.stack(np.meshgrid([0.0, 1.0], [0.0, 1.0], [0.0, 1.0], indexing="ij"), axis=-1)
    table = lut16_tag(Lut16(curves, corners, straight(3)))
    name = f"{correction.name} (grey correction)"
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
            "pseq": _sequence(name, version),
            "A2B0": table,
        },
    )


def _sequence(name: str, version: tuple[int, int]) -> bytes:
    """Say which profiles the link is made of: two nameless steps (ISO 15076-1, 10.19)."""
    description = text_description(name, version)
    step = bytes(4 + 4 + 8 + 4) + description + description
    return b"pseq\0\0\0\0" + struct.pack(">I", 2) + 2 * step
