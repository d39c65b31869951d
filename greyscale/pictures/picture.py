"""A picture opened for reading, what one to be written is like, and how one is refused."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from greyscale.base.errors import BadInput, no_such_file

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
        A block of EXIF (see `greyscale.pictures.metadata`), the orientation in it.
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


FULL_16 = 65535

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


@dataclass
class Clipped:
    """How much of a picture's values lies beyond 0 to 1, counted as its bands are read."""

    values: int = 0
    beyond: int = 0
    least: float = 0.0
    most: float = 1.0

    def see(self, colours: Codes) -> None:
        """Count those of a band that are floats, and would be another 16-bit code inside."""
        if colours.dtype.kind == "f":
            step = 0.5 / FULL_16
            self.values += colours.size
            self.beyond += int(np.count_nonzero((colours < -step) | (colours > 1.0 + step)))
            self.least = min(self.least, float(colours.min()))
            self.most = max(self.most, float(colours.max()))

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is to be said of it, as sentences."""
        if not self.beyond:
            return ()
        share = 100 * self.beyond / self.values
        much = "less than 0.1" if share < 0.1 else f"{share:.1f}"
        return (
            f"{much} % of the picture's values lie beyond 0 to 1 ({self.least:.3g} to "
            f"{self.most:.3g}) and are held at the ends; if that is not meant, bring them to 0 to "
            "1 in the picture's editor, and save it again.",
        )


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture opened for reading.

    Attributes
    ----------
    format
        "TIFF", "PNG" or "JPEG".
    encoding
        What the file says of its values where it has no profile: "srgb", "gamma-2.2", ... as
        `greyscale.aims.tone` names them; None where it says nothing.
    pixels
        Begins to give them anew: see `bands`.
    decided
        What was decided in opening it, as sentences.
    clipped
        What was found as its bands were read.
    """

    path: Path
    format: str
    form: Form
    encoding: str | None
    pixels: Callable[[], Iterator[Codes]]
    decided: tuple[str, ...] = ()
    clipped: Clipped = field(default_factory=Clipped)

    def bands(self) -> Iterator[Codes]:
        """Yield the pixels from the top, in bands of full rows, 0 always black.

        Raises
        ------
        BadInput
            Where the file is damaged.
        """
        yield from self.pixels()  # And not returned: the file is open as long as the picture lives.

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is to be shown of the reading, as sentences; whole once all bands were read."""
        return (*self.decided, *self.clipped.remarks)


# Codes of pictures as 16 bits, as floats, and whether they are grey.


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


# How a picture that cannot be used is refused: what was found, and what to do.

ADVICE = "save the picture as grey or RGB, TIFF, PNG or JPEG"


def damaged(path: Path, why: object) -> BadInput:
    """Say that a file is damaged."""
    reason = " ".join(str(why).split())
    return BadInput(f"the picture is damaged or cut short ({reason}); take an undamaged copy", path)


def unreadable(path: Path, error: OSError) -> BadInput:
    """Say that there is no such file, or that the system does not let it be read."""
    if isinstance(error, FileNotFoundError):
        return no_such_file(path)
    return BadInput(f"cannot be read ({error.strerror or error})", path)


@contextmanager
def libraries_silent() -> Iterator[None]:
    """Keep what a C library writes to the error stream from a person: it names no file."""
    try:
        kept = os.dup(2)
    except OSError:
        yield
        return
    sink = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(sink, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(sink)


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """Turn whatever a library raises over a damaged file into one message.

    Decoders raise errors of many kinds over bytes they did not expect. `BadInput` and a consumer
    that wants no more pass through.
    """
    try:
        yield
    except (BadInput, GeneratorExit):
        raise
    except MemoryError as error:
        raise BadInput(
            "the picture does not fit into memory; save it as TIFF in strips or tiles, "
            "uncompressed or with LZW or deflate",
            path,
        ) from error
    except OSError as error:
        raise (unreadable(path, error) if error.errno else damaged(path, error)) from error
    except Exception as error:
        raise damaged(path, error) from error


# How many pixels a picture may have that can only be read whole.

MOST_PIXELS = 178_000_000
"""About what takes 1 GB as 16-bit R, G, B; a file that claims more may be made to fill memory."""


def refuse_bits(path: Path, bits: int) -> None:
    """Refuse a picture of so few, or so many, bits per channel.

    Raises
    ------
    BadInput
        Always, saying what to do.
    """
    many = "1 bit" if bits == 1 else f"{bits} bits"
    raise BadInput(f"the picture has {many} per channel; save it with 8 or 16 bits", path)


def refuse_too_many(path: Path, width: int, height: int) -> None:
    """Refuse a PNG or JPEG that claims more than `MOST_PIXELS`.

    Raises
    ------
    BadInput
        Naming the way that such pictures can go.
    """
    if width * height > MOST_PIXELS:
        raise BadInput(
            f"the picture has {width} × {height} pixels, more than is safe to read in this format; "
            "save it as TIFF, which is read in strips",
            path,
        )
    refuse_no_pixels(path, width, height)


def refuse_no_pixels(path: Path, width: int, height: int) -> None:
    """Refuse a picture that claims to be without extent.

    Raises
    ------
    BadInput
        Saying so.
    """
    if not width or not height:
        raise BadInput("the picture has no pixels; take an undamaged copy", path)


def whole(form: Form, bands: Iterator[Codes]) -> Codes:
    """Return all bands of a picture as one array, (rows, columns) where it has one channel."""
    pixels = np.empty((form.height, form.width, form.channels), dtype=form.kind)
    top = 0
    for band in bands:
        pixels[top : top + len(band)] = band
        top += len(band)
    return pixels if form.channels > 1 else pixels[..., 0]


MOST_BYTES = 450_000_000
"""Of the pixels that are written whole: 150 megapixels of 8-bit R, G, B, 75 of 16-bit. Writing them
takes up to 1.5 GB."""
