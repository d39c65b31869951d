"""EXIF (CIPA DC-008): what a camera or an editor says of a picture, carried from file to file.

In PNG and JPEG it is a small TIFF file of its own; in TIFF its entries stand in the picture's own
directory. Here it is always the former: a block of bytes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from io import BytesIO
from typing import BinaryIO

from greyscale.pictures.directories import (
    LONG,
    LONG8,
    SHORT,
    DamagedDirectory,
    Directory,
    Layout,
    find_entry,
    read_directory,
    read_layout,
    value,
    write_directory,
)

PHOTO, PLACE, INTEROPERABILITY = 34665, 34853, 40965
"""Tags that point to a directory of their own."""

ORIENTATION, COLOUR_SPACE = 274, 40961
SRGB, UNCALIBRATED = 1, 65535
"""What EXIF says of colours: sRGB, or something that it cannot name."""

X_RESOLUTION, Y_RESOLUTION, RESOLUTION_UNIT = 282, 283, 296
RESOLUTION = frozenset({X_RESOLUTION, Y_RESOLUTION, RESOLUTION_UNIT})

DESCRIBING = RESOLUTION | frozenset(
    {
        269,  # DocumentName
        270,  # ImageDescription
        271,  # Make
        272,  # Model
        ORIENTATION,
        285,  # PageName
        286,  # XPosition
        287,  # YPosition
        305,  # Software
        306,  # DateTime
        315,  # Artist
        316,  # HostComputer
        18246,  # Rating
        18249,  # RatingPercent
        33432,  # Copyright
        *range(40091, 40096),  # title, comment, author, keywords, subject in UTF-16
    }
)
"""Tags of a TIFF's own directory that describe the picture, not how it is stored: TIFF 6.0,
section 8, EXIF, and what is in common use."""

_POINTERS = frozenset({PHOTO, PLACE, INTEROPERABILITY})


@dataclass(frozen=True)
class Exif:
    """EXIF, taken apart.

    Attributes
    ----------
    main
        What describes the picture.
    photo, place, interoperability
        The directories of the exposure, of GPS, and the small one within the first.
    """

    main: Directory = field(default_factory=dict)
    photo: Directory = field(default_factory=dict)
    place: Directory = field(default_factory=dict)
    interoperability: Directory = field(default_factory=dict)


def read_exif(
    file: BinaryIO, offset: int, layout: Layout, wanted: frozenset[int] = DESCRIBING
) -> Exif:
    """Read EXIF from a TIFF's directory at `offset`; what is damaged beside it is left out.

    Raises
    ------
    DamagedDirectory
        If the directory itself is damaged.
    """
    main = read_directory(file, offset, layout, wanted | _POINTERS)
    photo = _read_within(file, main.pop(PHOTO, None), layout)
    interoperability = _read_within(file, photo.pop(INTEROPERABILITY, None), layout)
    place = _read_within(file, main.pop(PLACE, None), layout)
    return Exif(main, photo, place, interoperability)


def _read_within(file: BinaryIO, pointer: object, layout: Layout) -> Directory:
    numbers = getattr(pointer, "numbers", ())
    if not numbers:
        return {}
    try:
        return read_directory(file, numbers[0], layout)
    except DamagedDirectory:
        return {}


def parse_exif(block: bytes) -> Exif:
    """Take a block of EXIF apart.

    Raises
    ------
    DamagedDirectory
        If it is damaged.
    """
    file = BytesIO(block)
    layout, offset = read_layout(file)
    return read_exif(file, offset, layout)


def exif_block(exif: Exif) -> bytes | None:
    """Give EXIF as a block of bytes; None where it says nothing."""
    if not (exif.main or exif.photo or exif.place):
        return None
    layout, start = Layout(), 8
    size = len(write_directory({**exif.main, **_pointers(exif, 0, 0, layout)}, start, layout))
    body, pointers = write_within(exif, start + size, layout)
    main = write_directory({**exif.main, **pointers}, start, layout)
    return b"II*\0" + start.to_bytes(4, "little") + main + body


def write_within(exif: Exif, offset: int, layout: Layout) -> tuple[bytes, Directory]:
    """Give the directories of exposure and place to stand at `offset`, and what points to them."""
    photo = dict(exif.photo)
    kind = LONG8 if layout.big else LONG
    if exif.interoperability:
        # How long the directory is does not depend on where it points.
        photo[INTEROPERABILITY] = value(kind, 0)
        inner_at = offset + len(write_directory(photo, offset, layout))
        photo[INTEROPERABILITY] = value(kind, inner_at)
    body = write_directory(photo, offset, layout) if photo else b""
    if exif.interoperability:
        body += write_directory(exif.interoperability, inner_at, layout)
    place_at = offset + len(body)
    if exif.place:
        body += write_directory(exif.place, place_at, layout)
    return body, _pointers(exif, offset, place_at, layout)


def _pointers(exif: Exif, photo_at: int, place_at: int, layout: Layout) -> Directory:
    kind = LONG8 if layout.big else LONG
    pointers: Directory = {}
    if exif.photo or exif.interoperability:
        pointers[PHOTO] = value(kind, photo_at)
    if exif.place:
        pointers[PLACE] = value(kind, place_at)
    return pointers


def colour_space(block: bytes) -> int | None:
    """Say what a block of EXIF says of colours: `SRGB`, `UNCALIBRATED`, or nothing."""
    try:
        numbers = parse_exif(block).photo[COLOUR_SPACE].numbers
    except (DamagedDirectory, KeyError):
        return None
    return numbers[0] if numbers else None


def without_colour_space(block: bytes) -> bytes:
    """Let a block of EXIF that says sRGB say `UNCALIBRATED`; all else stays where it is.

    Makers' own notes point to places in the block, so that it is not written anew.
    """
    if colour_space(block) != SRGB:
        return block
    file = BytesIO(block)
    layout, offset = read_layout(file)
    photo = read_directory(file, offset, layout, frozenset({PHOTO}))[PHOTO].numbers[0]
    place = find_entry(file, photo, layout, COLOUR_SPACE)
    # 65535 reads the same in either byte order.
    return block[:place] + value(SHORT, UNCALIBRATED).data + block[place + 2 :]


def orientation(block: bytes | None) -> int:
    """Give how the picture lies, from 1 (upright) to 8, as EXIF numbers it."""
    if block is None:
        return 1
    try:
        numbers = parse_exif(block).main[ORIENTATION].numbers
    except (DamagedDirectory, KeyError):
        return 1
    return numbers[0] if numbers and 1 <= numbers[0] <= 8 else 1
