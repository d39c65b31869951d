"""The directories of a TIFF file, entry by entry, as they stand: EXIF is made of the same.

Values are kept as bytes, so that what is carried from one picture to another is not understood,
rounded or spelled anew on the way. Source: TIFF 6.0, section 2; BigTIFF, as libtiff has it.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import BinaryIO

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
    """Read a directory; entries of no known type are left out.

    Parameters
    ----------
    wanted
        Tags to read; None reads all.

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
    """Give the place and the bytes of each entry of a directory."""
    counter = 8 if layout.big else 2
    count = layout.whole(_read(file, offset, counter))
    if count > _MOST_ENTRIES:
        raise DamagedDirectory(f"a directory of {count} entries")
    table = _read(file, offset + counter, count * layout.entry)
    for start in range(0, len(table), layout.entry):
        yield offset + counter + start, table[start : start + layout.entry]


def write_directory(directory: Mapping[int, Value], offset: int, layout: Layout) -> bytes:
    """Give the bytes of a directory that is to stand at `offset`; its values follow it.

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
