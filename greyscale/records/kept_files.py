"""The files that the log keeps: each content once, and given back exactly as it was."""

from __future__ import annotations

import hashlib
import zlib

from greyscale.base.errors import BadInput
from greyscale.records.print_log import PrintLog

LARGEST_KEPT = 500_000_000
"""Bytes: no file of a reading, a layout or a correction is nearly as large."""


def keep_content(log: PrintLog, content: bytes) -> str:
    """Keep a file's content, if it is not there yet; give its SHA-256 in hexadecimal digits."""
    digest = hashlib.sha256(content).hexdigest()
    known = log.connection.execute("SELECT 1 FROM files WHERE sha256 = ?", (digest,)).fetchone()
    if known is None:
        log.connection.execute(
            "INSERT INTO files (sha256, size, packed) VALUES (?, ?, ?)",
            (digest, len(content), zlib.compress(content)),
        )
    return digest


def attach(log: PrintLog, entry: int, role: str, name: str, content: bytes) -> None:
    """Keep a file as one of an entry's."""
    log.connection.execute(
        "INSERT INTO entry_files (entry, role, name, sha256) VALUES (?, ?, ?, ?)",
        (entry, role, name, keep_content(log, content)),
    )


def content_of(log: PrintLog, sha256: str) -> bytes:
    """Give a kept file's content.

    Raises
    ------
    BadInput
        If it is not what was kept: the log is damaged.
    """
    row = log.connection.execute(
        "SELECT size, packed FROM files WHERE sha256 = ?", (sha256,)
    ).fetchone()
    content = b"" if row is None else _unpacked(row["packed"], row["size"])
    if row is None or hashlib.sha256(content).hexdigest() != sha256:
        raise BadInput(
            f"is damaged: a kept file (sha256 {sha256[:12]}…) is no longer what it was; "
            "'greyscale log rescue -o NEW.sqlite3' saves all that is sound",
            log.path,
        )
    return content


def _unpacked(packed: bytes, size: int) -> bytes:
    """Unpack no more than was packed, so that a doctored log cannot fill the memory."""
    try:
        return zlib.decompressobj().decompress(packed, min(size, LARGEST_KEPT) + 1)
    except (zlib.error, TypeError, ValueError, OverflowError):
        # A damaged log may hold anything in any column: text for a size, or -1.
        return b""
