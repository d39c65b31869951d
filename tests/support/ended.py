"""What a command leaves that ends before its time: files, print logs, and what lies about."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from support.runner import snapshot

LOG = ".sqlite3"
_MOMENT = re.compile(rb"20\d\d-\d\d-\d\d[T ][\d:.+Z]*")
"""When something was made, which no two runs have in common."""

_OF_A_LOG = re.compile(r"\.sqlite3(-wal|-shm|-journal|\.backup-\d(-wal|-shm)?)$")


@dataclass(frozen=True)
class Left:
    """What is in a folder.

    Attributes
    ----------
    files
        Their contents by their paths, but print logs; without moments.
    logs
        What each print log holds: kinds and names of its entries, by its path.
    """

    files: dict[str, bytes]
    logs: dict[str, tuple[tuple[str, str], ...]]


def left_in(folder: Path) -> Left:
    """Look at all that is in a folder; every print log must be sound, its backups too."""
    files = snapshot(folder)
    logs = {path: _log(folder / path) for path in files if path.endswith(LOG)}
    for path in files:
        if ".backup-" in path and not path.endswith(("-wal", "-shm")):
            _log(folder / path)
    told = {
        path: _without_moments(path, content)
        for path, content in files.items()
        if not path.endswith(LOG) and not _OF_A_LOG.search(path)
    }
    return Left(told, {path: held for path, held in logs.items() if held is not None})


def _without_moments(path: str, content: bytes) -> bytes:
    if path.endswith(".icc"):
        # When it was made, and its digest, which holds that too (ICC.1:2010, table 17).
        return content[:24] + content[36:84] + content[100:]
    return _MOMENT.sub(b"", content)


def _log(path: Path) -> tuple[tuple[str, str], ...] | None:
    """What a print log holds; None for one that was begun only."""
    with closing(sqlite3.connect(path)) as log:
        assert log.execute("PRAGMA integrity_check").fetchall() == [("ok",)], path
        assert log.execute("PRAGMA foreign_key_check").fetchall() == [], path
        if not log.execute("SELECT 1 FROM sqlite_master WHERE name = 'entries'").fetchone():
            return None
        return tuple(log.execute("SELECT kind, name FROM entries ORDER BY id").fetchall()) or None


def lying_about(folder: Path, *expected: Left) -> list[str]:
    """Name what no run is to leave: files and folders that neither result has.

    What is temporary may keep a folder of this person's own, with nothing in it.
    """
    known = {path for one in expected for path in (*one.files, *one.logs)}
    parents = {str(parent) for path in known for parent in Path(path).parents}
    parents |= {"tmp", f"tmp/greyscale-{os.getuid()}"}
    found = [path.relative_to(folder) for path in folder.rglob("*")]
    return [
        str(path)
        for path in found
        if str(path) not in known
        and not ((folder / path).is_dir() and str(path) in parents)
        and not _OF_A_LOG.search(str(path))
        and not (path.suffix == LOG and not path.name.startswith("."))
    ]


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
