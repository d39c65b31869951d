"""A picture opened for reading, and what a picture to be written is like."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

# What a picture says of itself beside its pixels, the same for every format.

PER_INCH, PER_CM, ASPECT = 2, 3, 1
"""Units of a resolution as TIFF 6.0 numbers them: per inch, per centimetre, only a ratio."""

_CM_PER_INCH = Fraction(254, 100)


@dataclass(frozen=True)
class Resolution:
    """How many pixels go to a length.

    Attributes
    ----------
    x, y
        Across and down.
    unit
        `PER_INCH`, `PER_CM`, or `ASPECT` where only their ratio is meant.
    """

    x: Fraction
    y: Fraction
    unit: int = PER_INCH

    def per(self, unit: int) -> Resolution:
        """Return the same per inch or per centimetre; a mere ratio stays one.

        Examples
        --------
        >>> Resolution(Fraction(254), Fraction(254)).per(PER_CM).x
        Fraction(100, 1)
        """
        if self.unit == unit or self.unit == ASPECT:
            return self
        factor = _CM_PER_INCH if unit == PER_INCH else 1 / _CM_PER_INCH
        return Resolution(self.x * factor, self.y * factor, unit)


@dataclass(frozen=True)
class Metadata:
    """What a picture says of itself, and what is carried to its corrected copy.

    Attributes
    ----------
    resolution
        None where the file does not tell.
    exif
        A block of EXIF (see `greyscale.pictures.exif`), the orientation in it.
    xmp
        An XMP packet.
    iptc
        IPTC records, as in TIFF's tag 33723.
    resources
        Image resource blocks, as in TIFF's tag 34377 and JPEG's APP13.
    texts
        A PNG's text chunks or a JPEG's comments and further blocks: name of chunk or marker, and
        content. They go only to the same format.
    """

    resolution: Resolution | None = None
    exif: bytes | None = None
    xmp: bytes | None = None
    iptc: bytes | None = None
    resources: bytes | None = None
    texts: tuple[tuple[str, bytes], ...] = ()


Codes = NDArray[Any]
"""Pixels as they stand in a file, shape (rows, columns, channels): uint8, uint16 or float32."""

BAND_BYTES = 1 << 24
"""How much of a picture is held at a time, where its file lets it be read in bands."""

STRAIGHT, MULTIPLIED = "straight", "multiplied"
"""Kinds of transparency: colours as they are, or multiplied by how opaque they are."""


@dataclass(frozen=True)
class Form:
    """How a picture is stored.

    Attributes
    ----------
    width, height
        Pixels.
    colours
        1 for grey, 3 for R, G, B.
    extra
        Channels beside them: transparency and the like.
    kind
        uint8, uint16, or float32 from 0 to 1.
    alpha
        What the first of the extra channels is: `STRAIGHT` or `MULTIPLIED` transparency; None
        if it is something else, or there is none.
    profile
        The ICC profile embedded in it.
    metadata
        What it says of itself.
    compression
        For TIFF: "lzw", "deflate", or None.
    """

    width: int
    height: int
    colours: int
    extra: int
    kind: np.dtype[Any]
    alpha: str | None = None
    profile: bytes | None = None
    metadata: Metadata = field(default_factory=Metadata)
    compression: str | None = None

    @property
    def channels(self) -> int:
        """All channels."""
        return self.colours + self.extra

    @property
    def row_bytes(self) -> int:
        """Bytes of a row."""
        return self.width * self.channels * self.kind.itemsize

    @property
    def band_rows(self) -> int:
        """Rows of about `BAND_BYTES`."""
        return max(1, min(self.height, BAND_BYTES // self.row_bytes))


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture opened for reading.

    Attributes
    ----------
    path
        The file.
    format
        "TIFF", "PNG" or "JPEG".
    form
        How it is stored.
    encoding
        What the file says of its values where it has no profile: "srgb", "gamma-2.2", ... as
        `greyscale.aims.tone` names them; None where it says nothing.
    bands
        Gives the pixels from the top, in bands of full rows, 0 always black. It raises
        `BadInput` where the file is damaged.
    remarks
        What was decided in reading, as sentences to be shown.
    """

    path: Path
    format: str
    form: Form
    encoding: str | None
    bands: Callable[[], Iterator[Codes]]
    remarks: tuple[str, ...] = ()


# Codes of pictures as 16 bits, as floats, and whether they are grey.

FULL_16 = 65535


def as_16_bits(codes: Codes) -> Codes:
    """Return 8 bits, or floats from 0 to 1, as 16 bits; what is outside is held at the ends."""
    if codes.dtype == np.uint16:
        return codes
    if codes.dtype == np.uint8:
        return codes.astype(np.uint16) * 257
    inside = np.clip(codes, 0.0, 1.0)
    return (inside * np.float32(FULL_16) + np.float32(0.5)).astype(np.uint16)


def as_floats(codes: Codes) -> Codes:
    """Return whole codes as float32 from 0 to 1; floats as they are."""
    if codes.dtype.kind == "f":
        return codes
    return codes.astype(np.float32) / np.float32(np.iinfo(codes.dtype).max)


def all_grey(colours: Codes) -> bool:
    """Say whether all pixels have equal channels; shape (..., 3).

    Examples
    --------
    >>> all_grey(np.array([[7, 7, 7], [9, 9, 9]])), all_grey(np.array([[7, 7, 8]]))
    (True, False)
    """
    first = colours[..., 0]
    return np.array_equal(first, colours[..., 1]) and np.array_equal(first, colours[..., 2])


def straight(colours: Codes, opaque: Codes) -> Codes:
    """Undo the multiplication of colours by how opaque they are; what cannot be seen is black.

    Parameters
    ----------
    colours
        Shape (..., n).
    opaque
        Shape (..., 1): float32 from 0 to 1.

    Returns
    -------
    float32 from 0 to 1, shape (..., n).
    """
    values = as_floats(colours)
    plain = np.divide(values, opaque, out=np.zeros_like(values), where=opaque > 0)
    return np.clip(plain, 0.0, 1.0)
