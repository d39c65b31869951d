"""Copies of a print log beside it, checked, the newest few of them: to go back to."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.folders import scratch
from greyscale.base.locks import locked
from greyscale.records.schema import APPLICATION_ID, is_print_log

KEPT = 3
"""So many, `LOG.backup-1` the newest."""

EVERY = 7.0
"""Days from one to the next, where anything is added."""


@dataclass(frozen=True)
class Backup:
    """A copy of a print log.

    Attributes
    ----------
    path
        Its file, which is a print log itself.
    made
        When.
    entries
        How many it holds; None where it is damaged.
    """

    path: Path
    made: datetime
    entries: int | None


def back_up(connection: sqlite3.Connection, place: Path) -> None:
    """Copy the log, and let the copy be the newest backup if it is sound; the oldest one goes.

    Raises
    ------
    BadInput
        If the log is damaged; the backups before stay.
    OSError, sqlite3.Error
        If nothing can be written.
    """
    paths = _paths(place)
    if any(path.exists() and not _is_ours(path) for path in paths):
        # Nothing to write over. A damaged backup makes room like any other.
        return
    with scratch(place.parent, ".greyscale-backup-") as folder:
        fresh = folder / place.name
        with closing(sqlite3.connect(fresh)) as copy:
            connection.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        if _entries_in(fresh) is None:
            raise BadInput("is damaged, and was not copied", place)
        with locked(place.parent):
            for older, newer in pairwise(reversed(paths)):
                with suppress(FileNotFoundError):
                    os.replace(newer, older)
            os.replace(fresh, paths[0])


def back_up_if_due(connection: sqlite3.Connection, place: Path) -> None:
    """Back up a log whose newest backup, or first entry, is older than `EVERY`; where that can be.

    What cannot be backed up, for want of space or being damaged, is no reason to add nothing.
    """
    try:
        since = _paths(place)[0].stat().st_mtime
    except OSError:
        first = connection.execute("SELECT added FROM entries ORDER BY id LIMIT 1").fetchone()
        try:
            since = time.time() if first is None else datetime.fromisoformat(first[0]).timestamp()
        except (TypeError, ValueError):
            return
    if time.time() - since > EVERY * 86_400:
        with suppress(BadInput, OSError, sqlite3.Error):
            back_up(connection, place)


def backups_of(place: Path) -> Iterator[Backup]:
    """Return the backups beside a log, the newest first, each looked through."""
    for path in _paths(place):
        with suppress(OSError):
            made = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            yield Backup(path, made, _entries_in(path))


def _paths(place: Path) -> list[Path]:
    return [place.with_name(f"{place.name}.backup-{number}") for number in range(1, KEPT + 1)]


def _is_ours(path: Path) -> bool:
    """Whether a file begins as a print log does, sound or damaged (https://sqlite.org/fileformat.html,
    1.3)."""
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except OSError:
        return False
    mark = APPLICATION_ID.to_bytes(4, "big")
    return head.startswith(b"SQLite format 3\0") and head[68:72] == mark


def _entries_in(path: Path) -> int | None:
    """Count the entries of a backup; None where it is no sound print log."""
    try:
        uri = f"{path.resolve().as_uri()}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True)) as copy:
            if not is_print_log(copy) or copy.execute("PRAGMA quick_check").fetchone()[0] != "ok":
                return None
            return int(copy.execute("SELECT count(*) FROM entries").fetchone()[0])
    except (sqlite3.Error, UnicodeDecodeError, OSError):
        return None
