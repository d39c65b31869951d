"""Bands of a picture through a correction: whatever channels they have, without losing steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from greyscale.aims.tone import Encoding, named_encoding
from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array, equal_channels
from greyscale.colorimetry.cielab import chroma, xyz_to_lab
from greyscale.correction.folder import LUT_3D
from greyscale.correction.luts import lut_1d
from greyscale.correction.record import Curve
from greyscale.pictures.colour_profiles import (
    ColourProfile,
    colour_profile,
    converted,
    read_profile_file,
    srgb_profile,
    to_xyz,
)
from greyscale.pictures.picture import (
    FULL_16,
    MULTIPLIED,
    Codes,
    Form,
    Picture,
    all_grey,
    as_16_bits,
    as_floats,
    straight,
)

# From fine values to 8 bits without bands: rounded up or down by chance, as near as they lie.


def dithered(codes: Any, random: np.random.Generator) -> Any:
    """Turn 16-bit codes into 8-bit ones.

    A value between two codes becomes one or the other, the nearer the likelier, so that the mean
    over an area is kept; a value that is a whole code stays it, bare paper too.

    Parameters
    ----------
    codes
        uint16, any shape.
    random
        Decides; the same seed gives the same codes.

    Returns
    -------
    uint8, of the same shape.

    Examples
    --------
    >>> dithered(np.array([0, 257, 65535], dtype=np.uint16), np.random.default_rng(1)).tolist()
    [0, 1, 255]
    """
    fine = codes.astype(np.uint32)
    fine *= 255
    fine += random.integers(0, FULL_16, size=codes.shape, dtype=np.uint16)
    fine //= FULL_16
    return fine.astype(np.uint8)


# The LUT of a correction as a processor of OpenColorIO, for the values as they come.

LUTS = ("1d", "3d")
"""The curve, channel by channel; or the correction's 3D LUT, which leaves far colours alone."""


def processor(
    curve: Curve, axis: Array | None, kind: np.dtype[Any], lut_3d: Path | None
) -> Callable[[NDArray[Any]], None]:
    """Return what sends packed R, G, B, shape (rows, columns, 3) of `kind`, through, in place.

    Parameters
    ----------
    axis
        The level of values in equal steps, shape (n,), through which each channel goes first;
        None where they are levels already.
    kind
        uint16 or float32.

    Raises
    ------
    BadInput
        If the 3D LUT cannot be read.
    """
    import PyOpenColorIO

    group = PyOpenColorIO.GroupTransform()
    if lut_3d is None:
        table = curve.rgb if axis is None else curve.apply(np.repeat(axis[:, np.newaxis], 3, 1))
        group.appendTransform(lut_1d(table))
    else:
        if axis is not None:
            group.appendTransform(lut_1d(equal_channels(axis)))
        # Between nodes a tetrahedron keeps the grey axis what it is; the nodes are made for it.
        group.appendTransform(
            PyOpenColorIO.FileTransform(str(lut_3d), interpolation=PyOpenColorIO.INTERP_TETRAHEDRAL)
        )
    depth = PyOpenColorIO.BIT_DEPTH_UINT16 if kind == np.uint16 else PyOpenColorIO.BIT_DEPTH_F32
    try:
        made = PyOpenColorIO.Config.CreateRaw().getProcessor(group)
    except (PyOpenColorIO.Exception, UnicodeDecodeError) as error:
        # The second where its message would quote a line of the file that is no text.
        raise BadInput("cannot be read as a 3D LUT; make the correction again", lut_3d) from error
    through = made.getOptimizedCPUProcessor(depth, depth, PyOpenColorIO.OPTIMIZATION_LOSSLESS)

    def send(pixels: NDArray[Any]) -> None:
        # Told where the channels lie, it takes a fifth of the time that its `applyRGB` takes.
        rows, columns, _ = pixels.shape
        through.apply(
            PyOpenColorIO.PackedImageDesc(pixels, columns, rows, 3, depth, *pixels.strides[::-1])
        )

    return send


def lut_3d_of(folder: Path) -> Path:
    """Return the path of a correction's 3D LUT.

    Raises
    ------
    BadInput
        If it is not there.
    """
    path = (folder if folder.is_dir() else folder.parent) / LUT_3D
    if not path.is_file():
        raise BadInput(f"the correction has no {LUT_3D}; make the correction again", folder)
    return path


_LOOK = 16
"""Every so many pixels each way are looked at for colour."""

COLOURED = 0.02
"""Channels that lie farther apart than this, 0 to 1, are a colour, not a trace of compression."""


@dataclass(eq=False)
class BandCorrection:
    """Sends bands through a correction; keeps count of colour.

    Attributes
    ----------
    curve, conversion
        The correction, and how values become its levels.
    source, target
        How the picture is stored, and how it is to be.
    random
        Decides the dither of 8 bits.
    lut_3d
        A 3D LUT to take in the curve's place.
    coloured
        Whether colour has been seen in the picture so far.
    """

    curve: Curve
    conversion: Conversion
    source: Form
    target: Form
    random: np.random.Generator
    lut_3d: Path | None = None
    coloured: bool = False

    def __post_init__(self) -> None:
        axis = None if self.conversion.unchanged else self.conversion.axis
        whole = np.dtype(np.uint16)
        self._of_codes = processor(self.curve, axis, whole, self.lut_3d)
        self._of_values = processor(self.curve, axis, np.dtype(np.float32), self.lut_3d)
        self._of_levels = processor(self.curve, None, np.dtype(np.float32), self.lut_3d)

    def __call__(self, band: Codes) -> Codes:
        """Return the corrected band, of the target's kind and channels.

        The band, (rows, columns, channels) of the source's kind, may be changed.
        """
        colours, rest = band[..., : self.source.colours], band[..., self.source.colours :]
        if self.source.colours == 3 and not self.coloured:
            looked_at = colours[::_LOOK, ::_LOOK].transpose(2, 0, 1)
            seen = as_floats(np.ascontiguousarray(looked_at))
            self.coloured = bool(np.ptp(seen, axis=0).max(initial=0.0) > COLOURED)
        if self.source.alpha == MULTIPLIED:
            opaque = as_floats(rest[..., :1])
            corrected = self._corrected(straight(colours, opaque))
            corrected *= opaque
        else:
            corrected = self._corrected(_fine(colours))
        corrected = self._as_stored(corrected)
        if not self.target.extra:
            return corrected
        return np.concatenate([corrected, self._as_stored(_fine(rest))], axis=2)

    def of_levels(self, levels: Array) -> Codes:
        """The pixels, shape (n, channels), that are stored for greys of some levels, opaque."""
        values = np.repeat(levels.astype(np.float32)[:, np.newaxis, np.newaxis], 3, axis=2)
        values = np.ascontiguousarray(values)
        self._of_levels(values)
        stored = self._as_stored(values[..., : self.target.colours])
        if not self.target.extra:
            return stored[:, 0]
        full = np.ones((len(levels), 1, self.target.extra), dtype=np.float32)
        return np.concatenate([stored, self._as_stored(full)], axis=2)[:, 0]

    def _corrected(self, fine: Codes) -> Codes:
        """Correct colours of 16 bits or float32; give them in as many channels as are wanted."""
        if fine.shape[2] == 1:
            fine = np.repeat(fine, 3, axis=2)
        whole = fine.dtype == np.uint16
        # Where all pixels are grey, and grey means grey in the picture's profile, its axis serves.
        convert = self.conversion
        if convert.profile is not None and not (convert.greys_are_grey and all_grey(fine)):
            values = convert.colour_levels(as_floats(fine))
            self._of_levels(values)
            return as_16_bits(values) if whole else values
        fine = np.ascontiguousarray(fine)
        (self._of_codes if whole else self._of_values)(fine)
        return fine[..., : self.target.colours]

    def _as_stored(self, fine: Codes) -> Codes:
        """Return channels of 16 bits or float32 as the target stores them."""
        if self.target.kind == np.uint8:
            return np.asarray(dithered(as_16_bits(fine), self.random))
        return as_16_bits(fine) if self.target.kind == np.uint16 else as_floats(fine)


def _fine(codes: Codes) -> Codes:
    """Return 8 bits as 16; 16 bits and floats as they are."""
    return as_16_bits(codes) if codes.dtype == np.uint8 else codes


def only_grey(curve: Curve) -> bool:
    """Say whether a curve keeps greys of equal channels so: a grey picture can stay grey."""
    return bool(np.ptp(curve.rgb, axis=1).max() < 0.5 / FULL_16)


# What a picture's values stand for, and the way from them to those a correction expects.

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
    target
        The encoding that levels have.
    profile
        The picture's profile, where colours have to go through it; else each channel goes along
        `axis` by itself.
    space
        That of R, G, B where colours go; None for sRGB.
    greys_are_grey
        Whether equal R, G and B stand for grey in that profile, so that `axis` serves for them.
    """

    source: str
    axis: Array
    unchanged: bool
    target: Encoding
    profile: ColourProfile | None
    space: ColourProfile | None
    greys_are_grey: bool

    @cached_property
    def _into(self) -> tuple[ColourProfile, Array]:
        """Where colours go: a profile of R, G, B, and the level of each of its greys, (65536,)."""
        into = self.space or srgb_profile()
        return into, _axis(into, self.target)[0]

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
        space, axis = self._into
        inside = converted(values.reshape(-1, 3), self.profile, space)
        levels = np.interp(inside, np.linspace(0.0, 1.0, CODES), axis).astype(np.float32)
        return levels.reshape(values.shape)


def conversion_of(
    picture: Picture, target: Encoding, stated: str | None, space: ColourProfile | None = None
) -> Conversion:
    """Find out what a picture's values are, and how they become levels.

    A profile in the picture comes first, then what the file says without one (a PNG's chunks, a
    JPEG's EXIF), then what is stated.

    Parameters
    ----------
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
    profile = _profile_of(picture, stated if stated != target.name else None)
    if profile is None:
        encoding = _stated_encoding(picture, target, stated)
        codes = np.linspace(0.0, 1.0, CODES)
        axis = codes if encoding is target else target.values(encoding.luminance(codes))
        unchanged = _is_straight(axis)
        return Conversion(encoding.name, axis, unchanged, target, None, space, True)
    axis, neutral = _axis(profile, target)
    unchanged = neutral and _is_straight(axis) and (space is None or _same_colours(profile, space))
    by_colour = profile if picture.form.colours == 3 and not unchanged else None
    return Conversion(profile.name, axis, unchanged, target, by_colour, space, neutral)


def _profile_of(picture: Picture, stated: str | None) -> ColourProfile | None:
    data, source = picture.form.profile, picture.path
    if data is None and picture.encoding is None and stated is not None and Path(stated).is_file():
        data, source = read_profile_file(stated), Path(stated)
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
