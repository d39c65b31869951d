"""What a picture's file says of it, carried from file to file: EXIF (CIPA DC-008) and XMP.

In PNG and JPEG, EXIF is a small TIFF file of its own; in TIFF its entries stand in the picture's
own directory. Here it is always the former: a block of bytes.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from html import escape
from io import BytesIO
from typing import BinaryIO, Literal
from xml.etree import ElementTree

from greyscale.base.errors import BadInput
from greyscale.readings.source_file import Outline

# The directories of a TIFF file, entry by entry, as they stand: EXIF is made of the same.
#
# Values are kept as bytes, so that what is carried from one picture to another is not
# understood, rounded or spelled anew on the way. Source: TIFF 6.0, section 2; BigTIFF, as
# libtiff has it.

# Bytes of one item of each type, and of the words in it that the byte order turns round.
_TYPES = {
    1: (1, 1),  # BYTE
    2: (1, 1),  # ASCII
    3: (2, 2),  # SHORT
    4: (4, 4),  # LONG
    5: (8, 4),  # RATIONAL
    6: (1, 1),  # SBYTE
    7: (1, 1),  # UNDEFINED
    8: (2, 2),  # SSHORT
    9: (4, 4),  # SLONG
    10: (8, 4),  # SRATIONAL
    11: (4, 4),  # FLOAT
    12: (8, 8),  # DOUBLE
    13: (4, 4),  # IFD
    16: (8, 8),  # LONG8
    17: (8, 8),  # SLONG8
    18: (8, 8),  # IFD8
}
BYTE, ASCII, SHORT, LONG, RATIONAL, UNDEFINED, LONG8 = 1, 2, 3, 4, 5, 7, 16

_MOST_ENTRIES = 4096
_MOST_BYTES = 1 << 26
"""A value of more than 64 MiB is no description of a picture."""


class DamagedDirectory(ValueError):
    """A directory that does not hold what it says."""


@dataclass(frozen=True)
class Value:
    """One entry's value.

    Attributes
    ----------
    kind
        Its type, a number of TIFF 6.0.
    data
        Its bytes, in little-endian order.
    """

    kind: int
    data: bytes

    @property
    def count(self) -> int:
        """How many items."""
        return len(self.data) // _TYPES[self.kind][0]

    @property
    def numbers(self) -> tuple[int, ...]:
        """The items as whole numbers; those of a rational in turn."""
        word = _TYPES[self.kind][1]
        signed = self.kind in (6, 8, 9, 10, 17)
        return tuple(
            int.from_bytes(self.data[i : i + word], "little", signed=signed)
            for i in range(0, len(self.data), word)
        )

    @property
    def text(self) -> str:
        """The value as text, without what fills it up."""
        return self.data.split(b"\0")[0].decode("utf-8", "replace")


def value(kind: int, *numbers: int) -> Value:
    """Make a value of whole numbers.

    Examples
    --------
    >>> value(SHORT, 8, 8, 8).data.hex()
    '080008000800'
    """
    word = _TYPES[kind][1]
    signed = kind in (6, 8, 9, 10, 17)
    return Value(kind, b"".join(n.to_bytes(word, "little", signed=signed) for n in numbers))


Directory = dict[int, Value]
"""Values by their tags."""


@dataclass(frozen=True)
class Layout:
    """How a TIFF file is laid out.

    Attributes
    ----------
    order
        "little" or "big".
    big
        Whether it is BigTIFF: offsets of eight bytes.
    """

    order: str = "little"
    big: bool = False

    @property
    def word(self) -> int:
        """Bytes of an offset."""
        return 8 if self.big else 4

    @property
    def entry(self) -> int:
        """Bytes of an entry: tag, type, count, value or offset."""
        return 4 + 2 * self.word

    def whole(self, data: bytes) -> int:
        """Read a whole number."""
        return int.from_bytes(data, "little" if self.order == "little" else "big")


def read_layout(file: BinaryIO) -> tuple[Layout, int]:
    """Read a TIFF header; give the layout, and where its first directory lies.

    Raises
    ------
    DamagedDirectory
        If it is none.
    """
    file.seek(0)
    head = file.read(16)
    order = {b"II": "little", b"MM": "big"}.get(head[:2])
    if order is None or len(head) < 8:
        raise DamagedDirectory("no TIFF header")
    layout = Layout(order)
    version = layout.whole(head[2:4])
    if version == 42:
        return layout, layout.whole(head[4:8])
    if version == 43 and len(head) == 16:
        return Layout(order, big=True), layout.whole(head[8:16])
    raise DamagedDirectory(f"version {version} of TIFF")


def read_directory(
    file: BinaryIO, offset: int, layout: Layout, wanted: frozenset[int] | None = None
) -> Directory:
    """Read a directory, or what is wanted of it; entries of no known type are left out.

    Raises
    ------
    DamagedDirectory
        If it, or a value that is wanted, reaches beyond the file.
    """
    found: Directory = {}
    for _, entry in _entries(file, offset, layout):
        tag, kind = layout.whole(entry[0:2]), layout.whole(entry[2:4])
        if kind not in _TYPES or (wanted is not None and tag not in wanted):
            continue
        items = layout.whole(entry[4 : 4 + layout.word])
        size = items * _TYPES[kind][0]
        place = entry[4 + layout.word :]
        if size > _MOST_BYTES:
            raise DamagedDirectory(f"tag {tag} of {size} bytes")
        data = place[:size] if size <= layout.word else _read(file, layout.whole(place), size)
        found[tag] = Value(kind, _turned(data, kind) if layout.order == "big" else data)
    return found


def find_entry(file: BinaryIO, offset: int, layout: Layout, tag: int) -> int:
    """Say where the value (or its offset) of a tag of a directory stands in the file.

    Raises
    ------
    DamagedDirectory
        If there is no such tag.
    """
    for place, entry in _entries(file, offset, layout):
        if layout.whole(entry[0:2]) == tag:
            return place + 4 + layout.word
    raise DamagedDirectory(f"no tag {tag}")


def _entries(file: BinaryIO, offset: int, layout: Layout) -> Iterator[tuple[int, bytes]]:
    """Yield the place and the bytes of each entry of a directory."""
    counter = 8 if layout.big else 2
    count = layout.whole(_read(file, offset, counter))
    if count > _MOST_ENTRIES:
        raise DamagedDirectory(f"a directory of {count} entries")
    table = _read(file, offset + counter, count * layout.entry)
    for start in range(0, len(table), layout.entry):
        yield offset + counter + start, table[start : start + layout.entry]


def write_directory(directory: Mapping[int, Value], offset: int, layout: Layout) -> bytes:
    """Return the bytes of a directory that is to stand at `offset`; its values follow it.

    Parameters
    ----------
    directory
        The values; they are sorted by tag, as TIFF asks.
    layout
        Little-endian.
    """
    word = layout.word
    entries = sorted(directory.items())
    head = len(entries).to_bytes(8 if layout.big else 2, "little")
    size = len(head) + len(entries) * layout.entry + word
    table, values = bytearray(), bytearray()
    for tag, one in entries:
        table += struct.pack("<HH", tag, one.kind) + one.count.to_bytes(word, "little")
        if len(one.data) <= word:
            table += one.data.ljust(word, b"\0")
        else:
            table += (offset + size + len(values)).to_bytes(word, "little")
            values += one.data + b"\0" * (len(one.data) % 2)
    return bytes(head + table + bytes(word) + values)


def _read(file: BinaryIO, offset: int, size: int) -> bytes:
    if offset < 0 or offset > 1 << 62:
        raise DamagedDirectory(f"an offset of {offset}")
    file.seek(offset)
    data = file.read(size)
    if len(data) != size:
        raise DamagedDirectory("it is cut short")
    return data


def _turned(data: bytes, kind: int) -> bytes:
    """Turn the bytes of each word round."""
    word = _TYPES[kind][1]
    if word == 1:
        return data
    return b"".join(data[i : i + word][::-1] for i in range(0, len(data), word))


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
    photo, place, interoperability
        The directories of the exposure, of GPS, and the small one within the first.
    """

    main: Directory = field(default_factory=dict)
    photo: Directory = field(default_factory=dict)
    place: Directory = field(default_factory=dict)
    interoperability: Directory = field(default_factory=dict)


def read_exif(file: BinaryIO, offset: int, layout: Layout) -> Exif:
    """Read EXIF from a TIFF's directory at `offset`; what is damaged beside it is left out.

    Raises
    ------
    DamagedDirectory
        If the directory itself is damaged.
    """
    main = read_directory(file, offset, layout, DESCRIBING | _POINTERS)
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
    """Return EXIF as a block of bytes; None where it says nothing."""
    if not (exif.main or exif.photo or exif.place):
        return None
    layout, start = Layout(), 8
    size = len(write_directory({**exif.main, **_pointers(exif, 0, 0, layout)}, start, layout))
    body, pointers = write_within(exif, start + size, layout)
    main = write_directory({**exif.main, **pointers}, start, layout)
    return b"II*\0" + start.to_bytes(4, "little") + main + body


def write_within(exif: Exif, offset: int, layout: Layout) -> tuple[bytes, Directory]:
    """The directories of exposure and place, to stand at `offset`, and what points to them."""
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


def _first_number(block: bytes, within: Literal["main", "photo"], tag: int) -> int | None:
    """Return what a block of EXIF says under a tag of one of its directories, if it does."""
    try:
        directory: Directory = getattr(parse_exif(block), within)
        numbers = directory[tag].numbers
    except (DamagedDirectory, KeyError):
        return None
    return numbers[0] if numbers else None


def colour_space(block: bytes) -> int | None:
    """Say what a block of EXIF says of colours: `SRGB`, `UNCALIBRATED`, or nothing."""
    return _first_number(block, "photo", COLOUR_SPACE)


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
    """Return how the picture lies, from 1 (upright) to 8, as EXIF numbers it."""
    lies = None if block is None else _first_number(block, "main", ORIENTATION)
    return lies if lies is not None and 1 <= lies <= 8 else 1


# XMP (ISO 16684-1): properties of our own, set beside all that a packet holds already.
#
# A packet is extended by text, not written anew: what other programs have put there stays as it
# is.

NAMESPACE = "urn:greyscale:xmp:1:"
"""The namespace of our own properties."""

PREFIX = "greyscale"

_RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
_EMPTY = (
    '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
    '<x:xmpmeta xmlns:x="adobe:ns:meta/">\n'
    f' <rdf:RDF xmlns:rdf="{_RDF}">\n'
    " </rdf:RDF>\n"
    "</x:xmpmeta>\n"
    '<?xpacket end="w"?>'
)
_END_OF_RDF = re.compile(r"(?<![ \t])[ \t]*</(?:[\w.-]+:)?RDF\s*>")
_CONTROL = re.compile("[\x00-\x1f\ufffe\uffff]")
"""Characters that XML cannot hold, or an attribute does not keep."""
_DESCRIPTION = re.compile(r"(?<![ \t])[ \t]*<(?:[\w.-]+:)?Description\b[^<>]*/>\n?")
_OWN = f'xmlns:{PREFIX}="{NAMESPACE}"'


def with_properties(packet: bytes | None, properties: Mapping[str, str]) -> bytes:
    """Add properties of our own namespace to a packet, in place of those it has.

    Parameters
    ----------
    packet
        As it stands in the file; none, or one that is no XMP, gives a new one.
    properties
        Names and values.

    Examples
    --------
    >>> own_properties(with_properties(None, {"Correction": "harbour light"}))
    {'Correction': 'harbour light'}
    """
    text = _text(packet)
    if text is None or not _END_OF_RDF.search(text):
        text = _EMPTY
    # Sought apart from the pattern, which would take time by the square of how often it is there.
    text = _DESCRIPTION.sub(lambda found: "" if _OWN in found[0] else found[0], text)
    *_, end = _END_OF_RDF.finditer(text)
    start = end.start()
    attributes = "".join(
        f'\n    {PREFIX}:{name}="{escape(_CONTROL.sub("", value))}"'
        for name, value in properties.items()
    )
    added = (
        f'  <rdf:Description xmlns:rdf="{_RDF}" rdf:about=""\n'
        f'    xmlns:{PREFIX}="{NAMESPACE}"{attributes}/>\n'
    )
    return (text[:start] + added + text[start:]).encode("utf-8")


def own_properties(packet: bytes | None) -> dict[str, str]:
    """Return a packet's properties of our own namespace: as attributes or as elements."""
    text = _text(packet)
    if text is None:
        return {}
    own = f"{{{NAMESPACE}}}"
    found: dict[str, str] = {}
    for element in ElementTree.fromstring(text).iter():
        if element.tag.startswith(own):
            found[element.tag.removeprefix(own)] = (element.text or "").strip()
        for name, value in element.attrib.items():
            if name.startswith(own):
                found[name.removeprefix(own)] = value
    return found


def _text(packet: bytes | None) -> str | None:
    """Return a packet as text, if it is harmless XML."""
    if not packet:
        return None
    try:
        text = packet.decode("utf-8").strip("\ufeff\0 \t\r\n")
        Outline(text, "XMP")
    except (UnicodeDecodeError, BadInput):
        return None
    return text
