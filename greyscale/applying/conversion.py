"""From a picture's own values to the levels that a correction expects."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from greyscale.aims.tone import Encoding, named_encoding
from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array, equal_channels
from greyscale.colorimetry.cielab import chroma, xyz_to_lab
from greyscale.pictures.colour_profiles import (
    ColourProfile,
    colour_profile,
    converted,
    srgb_profile,
    to_xyz,
)
from greyscale.pictures.picture import Picture

CODES = 65536
"""Values of a channel that are looked at: every code of 16 bits, and each 257th is one of 8."""

_SAME = 2.0 / 65535
"""A conversion that moves no grey by more than two codes of 16 bits is none: profiles keep their
curves with no more than 16 bits."""

_NEUTRAL = 0.05
"""Chroma up to which equal R, G and B of a profile are grey."""


@dataclass(frozen=True, eq=False)
class Conversion:
    """How a picture's values become levels.

    Attributes
    ----------
    source
        What the picture's values are, in a few words: a profile's name, or an encoding's.
    axis
        Shape (65536,): the level of each grey, for values from 0 to 1 in equal steps.
    unchanged
        Whether the values are levels already.
    profile
        The picture's profile, where colours have to go through it; else each channel goes along
        `axis` by itself.
    space, space_axis
        Where colours go: a profile of R, G, B, and the level of each of its greys, (65536,).
    greys_are_grey
        Whether equal R, G and B stand for grey in that profile, so that `axis` serves for them.
    """

    source: str
    axis: Array
    unchanged: bool
    profile: ColourProfile | None
    space: ColourProfile
    space_axis: Array
    greys_are_grey: bool

    def colour_levels(self, values: Any) -> Any:
        """Return the levels of colours that go through the profile.

        Parameters
        ----------
        values
            Shape (..., 3), float32 from 0 to 1.

        Returns
        -------
        Array of float32, shape (..., 3).
        """
        assert self.profile is not None
        inside = converted(values.reshape(-1, 3), self.profile, self.space)
        codes = np.linspace(0.0, 1.0, CODES)
        levels = np.interp(inside, codes, self.space_axis).astype(np.float32)
        return levels.reshape(values.shape)


def conversion_of(
    picture: Picture, target: Encoding, stated: str | None, space: ColourProfile | None = None
) -> Conversion:
    """Find out what a picture's values are, and how they become levels.

    A profile in the picture comes first, then what the file says without one (a PNG's chunks, a
    JPEG's EXIF), then what is stated.

    Parameters
    ----------
    picture
        The picture.
    target
        The encoding that levels have.
    stated
        For a picture that says nothing: the name of an encoding, or the path of an ICC profile.
    space
        The working space that the corrected picture belongs to; None for a printer's own values,
        where colours are taken through sRGB.

    Raises
    ------
    BadInput
        If nothing says what the values are; if a profile cannot be used, or is of another kind
        than the picture.
    """
    through = space or srgb_profile()
    space_axis, _ = _axis(through, target)
    profile = _profile_of(picture, stated if stated != target.name else None)
    if profile is None:
        encoding = _stated_encoding(picture, target, stated)
        codes = np.linspace(0.0, 1.0, CODES)
        axis = codes if encoding is target else target.values(encoding.luminance(codes))
        unchanged = _is_straight(axis)
        return Conversion(encoding.name, axis, unchanged, None, through, space_axis, True)
    axis, neutral = _axis(profile, target)
    unchanged = neutral and _is_straight(axis) and (space is None or _same_colours(profile, space))
    by_colour = profile if picture.form.colours == 3 and not unchanged else None
    return Conversion(profile.name, axis, unchanged, by_colour, through, space_axis, neutral)


def _profile_of(picture: Picture, stated: str | None) -> ColourProfile | None:
    data, source = picture.form.profile, picture.path
    if data is None and picture.encoding is None and stated is not None and Path(stated).is_file():
        data, source = Path(stated).read_bytes(), Path(stated)
    if data is None:
        return None
    profile = colour_profile(data, source)
    if profile.colours == 1 and picture.form.colours == 3:
        raise BadInput(
            f"the picture is RGB and its colour profile '{profile.name}' is for grey; embed the "
            "profile of an RGB working space, or make the picture grey",
            picture.path,
        )
    return profile


def _stated_encoding(picture: Picture, target: Encoding, stated: str | None) -> Encoding:
    name = picture.encoding or stated
    if name is None:
        raise BadInput(
            "the picture does not say how its values are encoded: it has no colour profile; give "
            f"--encoding: srgb, as pictures from cameras and the web are, or {target.name} if it "
            "was made for this correction",
            picture.path,
        )
    return target if name == target.name else named_encoding(name)


def _axis(profile: ColourProfile, target: Encoding) -> tuple[Array, bool]:
    """Return the level of each grey of a profile, and whether its greys are grey."""
    codes = np.linspace(0.0, 1.0, CODES)
    values = codes if profile.colours == 1 else equal_channels(codes)
    xyz = to_xyz(values, profile)
    lab = xyz_to_lab(xyz, xyz[-1])
    levels = np.maximum.accumulate(target.values(xyz[:, 1]))
    return levels, bool(chroma(lab[:, 1:]).max() <= _NEUTRAL)


def _is_straight(axis: Array) -> bool:
    return bool(np.abs(axis - np.linspace(0.0, 1.0, CODES)).max() <= _SAME)


def _same_colours(profile: ColourProfile, space: ColourProfile) -> bool:
    """Say whether two profiles give the same colours to the same values."""
    if profile.colours == 1 or profile.data == space.data:
        return True
    steps = np.linspace(0.0, 1.0, 5)
    grid = np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(-1, 3)
    difference = to_xyz(grid, profile) - to_xyz(grid, space)
    return bool(np.abs(difference).max() < 1e-3)
