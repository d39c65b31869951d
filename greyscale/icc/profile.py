"""What an ICC profile is made of: its header, and tags as bytes."""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import ArrayLike
from greyscale.pictures.colour_profiles import read_profile_file

HEADER_SIZE = 128
MOST_TAGS = 200
"""No profile has so many tags; a larger count is a lie."""

# D50, the illuminant of the profile connection space, as s15Fixed16 (ISO 15076-1, 7.2.16).
PCS_ILLUMINANT = (0.9642, 1.0, 0.8249)


@dataclass(frozen=True)
class Profile:
    """A profile as it lies in a file.

    Attributes
    ----------
    version
        Major and minor, as (4, 3).
    device_class
        "prtr", "link", "mntr", ...
    colour_space, connection_space
        Signatures as "RGB ", "GRAY", "Lab ".
    intent
        Rendering intent of the header, 0 to 3.
    header
        The 128 bytes the profile was read from, or None for a new one: what is not named above
        is taken over from there.
    tags
        Signature and bytes, in the file's order.
    """

    version: tuple[int, int]
    device_class: str
    colour_space: str
    connection_space: str
    intent: int
    header: bytes | None
    tags: Mapping[str, bytes]


def read_profile(path: Path | str) -> Profile:
    """Read a profile from a file.

    Raises
    ------
    BadInput
        If it cannot be read, or is not a sound profile.
    """
    return parse_profile(read_profile_file(path), path)


def parse_profile(data: bytes, source: object) -> Profile:
    """Take a profile apart.

    Raises
    ------
    BadInput
        If the bytes are no sound profile: what is wrong, and what to do.
    """
    if len(data) < HEADER_SIZE + 4 or data[36:40] != b"acsp":
        raise BadInput("is not an ICC profile", source)
    stated, count = struct.unpack_from(">I", data)[0], struct.unpack_from(">I", data, 128)[0]
    if stated > len(data):
        raise BadInput(
            f"the profile is cut off: it states {stated} bytes and holds {len(data)}; "
            "copy it again",
            source,
        )
    table_end = HEADER_SIZE + 4 + 12 * count
    if count > MOST_TAGS or table_end > stated:
        raise BadInput(
            f"the profile states {count} tags, which is not possible; it is damaged", source
        )
    spans: dict[str, tuple[int, int]] = {}
    for index in range(count):
        name, offset, size = struct.unpack_from(">4sII", data, HEADER_SIZE + 4 + 12 * index)
        signature = _text(name)
        if offset < table_end or size < 8 or offset + size > stated:
            raise BadInput(f"the tag '{signature}' lies outside the profile; it is damaged", source)
        if signature in spans:
            raise BadInput(f"the tag '{signature}' is there twice; it is damaged", source)
        spans[signature] = (offset, size)
    _check_apart(spans, source)
    return Profile(
        version=(data[8], data[9] >> 4),
        device_class=_text(data[12:16]),
        colour_space=_text(data[16:20]),
        connection_space=_text(data[20:24]),
        intent=struct.unpack_from(">I", data, 64)[0] & 3,
        header=data[:HEADER_SIZE],
        tags={name: data[start : start + size] for name, (start, size) in spans.items()},
    )


def _check_apart(spans: Mapping[str, tuple[int, int]], source: object) -> None:
    """Tags may share their bytes whole, but not in part (ISO 15076-1, 7.3.1)."""
    ordered = sorted(set(spans.values()))
    for (start, size), (following, _) in pairwise(ordered):
        if start + size > following:
            names = [name for name, span in spans.items() if span[0] in (start, following)]
            raise BadInput(f"the tags {' and '.join(names[:2])} overlap; it is damaged", source)


def profile_bytes(profile: Profile) -> bytes:
    """Put a profile together; equal tags share their bytes, a v4 profile gets its ID.

    Its date is the one that its header was read with, or 2000-01-01 for a new one, so that the
    same profile gives the same bytes.
    """
    count = len(profile.tags)
    position = HEADER_SIZE + 4 + 12 * count
    places: dict[bytes, int] = {}
    body, table = bytearray(), bytearray(struct.pack(">I", count))
    for name, content in profile.tags.items():
        if content not in places:
            places[content] = position
            padded = content + b"\0" * (-len(content) % 4)
            body += padded
            position += len(padded)
        table += struct.pack(">4sII", name.encode("latin-1"), places[content], len(content))
    header = _header(profile, position)
    if profile.version[0] >= 4:
        # MD5 over the profile with flags, intent and ID as zeros (ISO 15076-1, 7.2.18).
        cleared = bytearray(header)
        cleared[44:48] = cleared[64:68] = b"\0\0\0\0"
        cleared[84:100] = bytes(16)
        whole = bytes(cleared) + bytes(table) + bytes(body)
        header[84:100] = hashlib.md5(whole, usedforsecurity=False).digest()
    return bytes(header) + bytes(table) + bytes(body)


def _header(profile: Profile, size: int) -> bytearray:
    header = bytearray(profile.header or bytes(HEADER_SIZE))
    struct.pack_into(">I", header, 0, size)
    header[8:12] = bytes([profile.version[0], profile.version[1] << 4, 0, 0])
    for start, signature in (
        (12, profile.device_class), (16, profile.colour_space), (20, profile.connection_space),
        (36, "acsp"),
    ):  # fmt: skip
        header[start : start + 4] = signature.encode("latin-1")
    if profile.header is None:
        struct.pack_into(">6H", header, 24, 2000, 1, 1, 0, 0, 0)
    struct.pack_into(">I", header, 64, profile.intent)
    struct.pack_into(">3i", header, 68, *(round(value * 65536) for value in PCS_ILLUMINANT))
    header[84:100] = bytes(16)
    return header


def _text(raw: bytes) -> str:
    return raw.decode("latin-1")


# Tags that hold text, a colour or a curve.

NOT_STATED = "Copyright not stated"
"""A profile must have a copyright tag (ISO 15076-1, 8.2); whose it is, its user says."""


def text_description(text: str, version: tuple[int, int]) -> bytes:
    """Make a description tag: multiLocalizedUnicode in v4, textDescription in v2."""
    if version[0] >= 4:
        return localized(text)
    plain = text.encode("ascii", "replace") + b"\0"
    # ICC.1:2001-04, 6.5.17: ASCII, then Unicode and a Macintosh script, both empty.
    return b"desc\0\0\0\0" + struct.pack(">I", len(plain)) + plain + bytes(4 + 4 + 2 + 1 + 67)


def copyright_text(text: str, version: tuple[int, int]) -> bytes:
    """Make a copyright tag: multiLocalizedUnicode in v4, plain text in v2."""
    if version[0] >= 4:
        return localized(text)
    return b"text\0\0\0\0" + text.encode("ascii", "replace") + b"\0"


def localized(text: str) -> bytes:
    """Make a multiLocalizedUnicode tag with one record, in English (ISO 15076-1, 10.15)."""
    content = text.encode("utf-16-be")
    return (
        b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"GB", len(content), 28) + content
    )


def read_text(tag: bytes) -> str:
    """Return the text of a description or copyright tag of any of the three kinds; "" if none."""
    kind = tag[:4]
    if kind == b"text":
        return tag[8:].split(b"\0")[0].decode("latin-1")
    if kind == b"desc" and len(tag) >= 12:
        length = struct.unpack_from(">I", tag, 8)[0]
        return tag[12 : 12 + min(length, len(tag))].split(b"\0")[0].decode("latin-1")
    if kind == b"mluc" and len(tag) >= 28:
        length, offset = struct.unpack_from(">II", tag, 20)
        return tag[offset : offset + length].decode("utf-16-be", "replace").rstrip("\0")
    return ""


def xyz_tag(xyz: ArrayLike) -> bytes:
    """Make an XYZ tag of X, Y, Z with Y = 1 for white (ISO 15076-1, 10.31)."""
    values = np.asarray(xyz, dtype=np.float64)
    return b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(float(v) * 65536) for v in values))


def curve_tag(values: ArrayLike) -> bytes:
    """Make a curve tag of values from 0 to 1, evenly spaced (ISO 15076-1, 10.6)."""
    table = np.round(np.clip(np.asarray(values, dtype=np.float64), 0, 1) * 65535)
    return b"curv\0\0\0\0" + struct.pack(">I", table.size) + table.astype(">u2").tobytes()
