"""The files that the log keeps: each content once, and given back exactly as it was."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, cast

from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.base.folders import files_together, temporary
from greyscale.base.plain_text import plain_text
from greyscale.records.entries import (
    STATED,
    TABLES,
    TOLD,
    CorrectionDetails,
    Entry,
    KeptFile,
    ReadingDetails,
)
from greyscale.records.print_log import PrintLog

if TYPE_CHECKING:
    from greyscale.correction.record import Correction
    from greyscale.readings.fields import Ramp
    from greyscale.readings.reading import Reading


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
    """Return a kept file's content.

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


# How readings and corrections come back out of the log, from the files that it keeps.

_LONGEST_NAME = 200
"""Bytes, of 255 that a name may have."""


@contextmanager
def unpacked(log: PrintLog, entry: Entry) -> Iterator[Path]:
    """Yield a folder with an entry's files while the block runs."""
    with temporary("greyscale-log-") as folder:
        for kept in entry.files:
            path = folder / _place(kept)
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content_of(log, kept.sha256))
        yield folder


def _place(kept: KeptFile) -> Path:
    """Say where in a folder a file goes: a layout may have the same name as its reading."""
    name = Path(safe_name(kept.name))
    return "layout" / name if kept.role == "layout" else name


def reading_of(log: PrintLog, entry: Entry) -> Reading:
    """Return a reading as it was read when it was added, with what was told since.

    Its `source` names the file and the entry.

    Raises
    ------
    BadInput
        If the entry is none of a reading, or its file can no longer be read.
    """
    # Who only lists entries waits for no file format to be imported.
    from greyscale.readings.assemble import ReadOptions
    from greyscale.readings.formats import readings_in
    from greyscale.readings.layout import read_layout

    details = entry.details
    if not isinstance(details, ReadingDetails):
        raise BadInput(f"entry {entry.id} is a {entry.kind}, not a reading", log.path)
    kept = {one.role: one for one in entry.files}
    if "reading" not in kept:
        raise BadInput(f"is damaged: entry {entry.id} has lost its file; add it again", log.path)
    name, layout = _place(kept["reading"]), None
    if "layout" in kept:
        with unpacked(log, entry) as folder:
            layout = read_layout(folder / _place(kept["layout"]))
    options = ReadOptions(cast("Ramp | None", details.ramp), None, layout)
    readings = readings_in(content_of(log, kept["reading"].sha256), name, options)
    if details.part >= len(readings):
        raise BadInput(f"the file of entry {entry.id} holds fewer readings than it did", log.path)
    return replace(
        readings[details.part],
        source=f"{name} (entry {entry.id})",
        **{what: getattr(entry, what) for what in TABLES},
        created=entry.moment if entry.moment_from in (STATED, TOLD) else None,
    )


def correction_of(log: PrintLog, entry: Entry) -> Correction:
    """Return a correction.

    Raises
    ------
    BadInput
        If the entry is none of a correction.
    """
    from greyscale.correction.folder import read_correction

    if not isinstance(entry.details, CorrectionDetails):
        raise BadInput(f"entry {entry.id} is a {entry.kind}, not a correction", log.path)
    with unpacked(log, entry) as folder:
        return read_correction(folder)


def write_files(log: PrintLog, entry: Entry, folder: Path | str) -> tuple[Path, ...]:
    """Write an entry's files as they were given, all of them or none.

    Raises
    ------
    BadInput
        If there are none, or a file of that name is there already and is another.
    """
    if not entry.files:
        raise BadInput(f"entry {entry.id} is a {entry.kind}: it has no files", log.path)
    contents = {_place(kept): content_of(log, kept.sha256) for kept in entry.files}
    target = Path(folder)
    for name, content in contents.items():
        if (target / name).exists() and (target / name).read_bytes() != content:
            raise BadInput("is there already and is another file; give a new folder", target / name)
    with files_together(target) as fresh:
        for name, content in contents.items():
            if not (target / name).exists():
                write_whole(fresh / name, content)
    return tuple(target / name for name in contents)


def safe_name(name: str) -> str:
    """Return the last part of a name, as a name within a folder, whatever an imported log says.

    What no file's name can hold is left out, and the middle of a name that is too long.

    Examples
    --------
    >>> safe_name("../../etc/ramp.txt"), safe_name("..\\\\ramp.txt"), safe_name("..")
    ('ramp.txt', 'ramp.txt', 'file')
    """
    plain = " ".join(plain_text(name).split())
    last = PureWindowsPath(PurePosixPath(plain).name).name
    while len(last.encode("utf-8")) > _LONGEST_NAME:
        last = last[: len(last) // 2 - 1] + last[len(last) // 2 + 1 :]
    return last if last.strip(". ") else "file"
