"""Tags that hold text, a colour or a curve."""

from __future__ import annotations

import struct

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike

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
    """Give the text of a description or copyright tag of any of the three kinds; "" if none."""
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


def read_xyz(tag: bytes) -> Array | None:
    """Give X, Y, Z of an XYZ tag, Y = 1 for white; None if it is no such tag."""
    if tag[:4] != b"XYZ " or len(tag) < 20:
        return None
    return np.array(struct.unpack_from(">3i", tag, 8), dtype=np.float64) / 65536


def curve_tag(values: ArrayLike) -> bytes:
    """Make a curve tag of values from 0 to 1, evenly spaced (ISO 15076-1, 10.6)."""
    table = np.round(np.clip(np.asarray(values, dtype=np.float64), 0, 1) * 65535)
    return b"curv\0\0\0\0" + struct.pack(">I", table.size) + table.astype(">u2").tobytes()
