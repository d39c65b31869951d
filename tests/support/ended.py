"""What a command leaves that ends before its time: files, print logs, and what lies about."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

LOG = ".sqlite3"
_MOMENT = re.compile(
    rb"20\d\d-\d\d-\d\d[T ][\d:.+Z]*|\d+ [A-Z][a-z]+ 20\d\d, \d\d:\d\d|"
    rb'(?<=")[0-9a-f]{16}(?=")'
)
"""When something was made, as data and in words; and a correction's id, which follows from that."""

_OF_A_LOG = re.compile(r"\.sqlite3(-wal|-shm|-journal|\.backup-\d(-wal|-shm)?)?$")

Content = tuple[str, int]
"""Digest and size of a file, without moments."""


@dataclass(frozen=True)
class Left:
    """What is in a folder.

    Attributes
    ----------
    files
        Their contents by their paths, but print logs.
    logs
        What each print log holds: kinds and names of its entries, by its path.
    names
        The paths of all; those of folders end in "/".
    """

    files: dict[str, Content]
    logs: dict[str, tuple[tuple[str, str], ...]]
    names: frozenset[str]


def left_in(folder: Path) -> Left:
    """Look at all that is in a folder; every print log must be sound, its backups too."""
    files: dict[str, Content] = {}
    logs, names = {}, set()
    for path in sorted(folder.rglob("*")):
        name = str(path.relative_to(folder))
        names.add(f"{name}/" if path.is_dir() else name)
        if name.endswith(LOG) or (".backup-" in name and not name.endswith(("-wal", "-shm"))):
            if (held := _log(path)) is not None and name.endswith(LOG):
                logs[name] = held
        elif path.is_file() and not _OF_A_LOG.search(name):
            files[name] = _content(path)
    return Left(files, logs, frozenset(names))


_known: dict[tuple[int, ...], Content] = {}


def _content(path: Path) -> Content:
    found = path.stat()
    key = (found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)
    if key not in _known:
        content = path.read_bytes()
        if path.suffix == ".icc":
            # When it was made, and its digest, which holds that too (ICC.1:2010, table 17).
            content = content[:24] + content[36:84] + content[100:]
        content = _MOMENT.sub(b"", content)
        _known[key] = hashlib.sha256(content).hexdigest(), len(content)
    return _known[key]


_sound: dict[tuple[str, int, int], tuple[tuple[str, str], ...] | None] = {}


def _log(path: Path) -> tuple[tuple[str, str], ...] | None:
    """What a print log holds; None for one that was begun only."""
    found = path.stat()
    key = (path.name, found.st_size, found.st_mtime_ns)
    if key not in _sound or path.with_name(f"{path.name}-wal").exists():
        with closing(sqlite3.connect(path)) as log:
            assert log.execute("PRAGMA integrity_check").fetchall() == [("ok",)], path
            assert log.execute("PRAGMA foreign_key_check").fetchall() == [], path
            tables = log.execute("SELECT 1 FROM sqlite_master WHERE name = 'entries'").fetchall()
            asked = "SELECT kind, name FROM entries ORDER BY id"
            _sound[key] = tuple(log.execute(asked).fetchall()) or None if tables else None
    return _sound[key]


def lying_about(now: Left, *expected: Left) -> list[str]:
    """Name what no run is to leave: files and folders that neither result has.

    What is temporary may keep a folder of this person's own, with nothing in it.
    """
    known = {name for one in expected for name in one.names}
    known |= {"tmp/", f"tmp/greyscale-{os.getuid()}/"}
    return sorted(
        name
        for name in now.names - known
        if not _OF_A_LOG.search(name) or Path(name).name.startswith(".")
    )


def groups(before: Left, after: Left, one_by_one: bool) -> dict[str, list[str]]:
    """What differs, by what is to change together: a folder, or files of one stem."""
    found: dict[str, list[str]] = {}
    for path in sorted(before.files.keys() | after.files.keys()):
        if before.files.get(path) != after.files.get(path):
            together = path if one_by_one else re.split(r"[/.-]", path)[0]
            found.setdefault(together, []).append(path)
    return found


def again(source: Path, target: Path) -> None:
    """Let a folder be as another is."""
    shutil.rmtree(target)
    shutil.copytree(source, target, symlinks=True)
