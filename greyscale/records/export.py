"""The whole log in open formats: one JSON file, or JSON beside the files as they were given.

Schema "greyscale/print-log/1": entries name each other by `uid`, files by their SHA-256.
"""

from __future__ import annotations

import base64
import json
import re
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from greyscale import __version__
from greyscale.base.errors import BadInput, shown
from greyscale.base.files import keep_inputs, write_whole
from greyscale.base.folders import whole_folder
from greyscale.base.json_output import json_text
from greyscale.base.outputs import refuse_to_replace
from greyscale.records.adding import utc_now
from greyscale.records.entries import (
    POINTERS,
    TABLES,
    CorrectionDetails,
    Entry,
    KeptFile,
    ReadingDetails,
    VerificationDetails,
)
from greyscale.records.find import entry_of
from greyscale.records.kept_files import content_of, safe_name
from greyscale.records.print_log import PrintLog

SCHEMA = "greyscale/print-log/1"
JSON = "print-log.json"
FILES = "files"
_KEPT = re.compile(r"[0-9a-f]{16}-")
_OF_DESKTOPS = frozenset({".DS_Store", ".directory", "Thumbs.db", "desktop.ini"})

Data = dict[str, Any]


def export_json(log: PrintLog, path: Path | str) -> tuple[int, tuple[Damage, ...]]:
    """Write what is sound of the log as one JSON file, whole or not at all.

    Returns
    -------
    The number of entries, and what was left out because it is damaged.

    Raises
    ------
    BadInput
        If it cannot be written.
    """
    keep_inputs([log.path], [path])
    with log.at_one_time():
        entries, damages = look_through(log)
        files = [
            {**_of_file(kept), **_as_text(content_of(log, kept.sha256))} for kept in _kept(entries)
        ]
    write_whole(path, json_text(_document(entries, files)))
    return len(entries), damages


def export_folder(log: PrintLog, folder: Path | str) -> tuple[int, tuple[Damage, ...]]:
    """Write what is sound of the log as `print-log.json` and a folder of the files as given.

    They take the place of those of an earlier export, all at once; what else is there stays.

    Returns
    -------
    The number of entries, and what was left out because it is damaged.

    Raises
    ------
    BadInput
        If the folder holds something else, or cannot be written.
    """
    target = Path(folder)
    keep_inputs([log.path], [target, target / JSON])
    _refuse_others(target)
    with whole_folder(target, {JSON, FILES}, lambda: _refuse_others(target)) as fresh:
        with log.at_one_time():
            entries, damages = look_through(log)
            files = []
            for kept in _kept(entries):
                name = f"{FILES}/{kept.sha256[:16]}-{safe_name(kept.name)}"
                write_whole(fresh / name, content_of(log, kept.sha256))
                files.append({**_of_file(kept), "path": name})
        write_whole(fresh / JSON, json_text(_document(entries, files)))
    return len(entries), damages


def _refuse_others(target: Path) -> None:
    """Refuse a folder that holds something else than an export, or that may not be replaced."""
    if not target.is_dir() or not any(target.iterdir()):
        return
    kept = target / FILES
    if not (target / JSON).is_file():
        raise BadInput("holds other files and no print log; give a new folder", target)
    names = [path.name for path in kept.iterdir()] if kept.is_dir() else []
    # What desktops leave in every folder that they show is nobody's.
    others = [name for name in names if not _KEPT.match(name) and name not in _OF_DESKTOPS]
    if others:
        raise BadInput(f"holds a file of another's, '{others[0]}'; give a new folder", kept)
    refuse_to_replace(target / JSON)


def entry_data(entry: Entry, name_of: Callable[[int], int | str | None]) -> Data:
    """Return an entry as plain data.

    Parameters
    ----------
    name_of
        What stands for another entry, given by its number; None where that one is lost.
    """
    common = {
        "uid": entry.uid,
        "kind": entry.kind,
        "name": entry.name,
        "moment": entry.moment.isoformat(timespec="seconds"),
        "moment_from": entry.moment_from,
        "added": entry.added.isoformat(timespec="seconds"),
        "version": entry.version,
        **{what: getattr(entry, what) for what in TABLES},
        "files": [asdict(kept) for kept in entry.files],
    }
    return common | {entry.kind: _details(entry, name_of)}


def _details(entry: Entry, name_of: Callable[[int], int | str | None]) -> Data:
    details = entry.details
    data = asdict(details)
    for name in POINTERS[entry.kind]:
        data[name] = None if data[name] is None else name_of(data[name])
    if isinstance(details, ReadingDetails):
        # Through a correction that is lost is not the same as through none.
        lost = details.through is not None and data["through"] is None
        data["stated"] = details.stated and not lost
    if isinstance(details, CorrectionDetails):
        for source in data["sources"]:
            source["entries"] = [one for one in map(name_of, source["entries"]) if one is not None]
    if isinstance(details, VerificationDetails):
        data["result"] = json.loads(details.result)
    return data


def _document(entries: Sequence[Entry], files: Sequence[Data]) -> Data:
    uids = {entry.id: entry.uid for entry in entries}
    return {
        "schema": SCHEMA,
        "version": __version__,
        "exported": utc_now(),
        "entries": [entry_data(entry, uids.get) for entry in entries],
        "files": list(files),
    }


def _kept(entries: Sequence[Entry]) -> list[KeptFile]:
    """Return every kept file once, under the name it was kept by first."""
    return list({kept.sha256: kept for entry in entries[::-1] for kept in entry.files}.values())


def _of_file(kept: KeptFile) -> Data:
    return {"name": kept.name, "sha256": kept.sha256, "size": kept.size}


def _as_text(content: bytes) -> Data:
    """Return a file as text where it is UTF-8, so that an export can be read; else as base64."""
    try:
        return {"text": content.decode("utf-8")}
    except UnicodeDecodeError:
        return {"base64": base64.b64encode(content).decode("ascii")}


# What of a print log is sound, entry by entry.

UID = re.compile(r"[0-9a-f]{32,64}")
"""The name of an entry in every log it is copied to."""

_MOST_TRIED = 100_000
"""Numbers of entries that are tried where the list of them is damaged."""


@dataclass(frozen=True)
class Damage:
    """An entry that cannot be given back as it was.

    Attributes
    ----------
    entry
        Its number.
    what
        What was found.
    """

    entry: int
    what: str

    def __str__(self) -> str:
        return f"entry {self.entry}: {self.what}"


def look_through(log: PrintLog) -> tuple[tuple[Entry, ...], tuple[Damage, ...]]:
    """Return the entries that are sound with all they keep and point to, and what is not.

    Returns
    -------
    The entries, the oldest first, and the damages by their numbers.
    """
    sound: dict[int, Entry] = {}
    damages: list[Damage] = []
    for number in _numbers(log):
        try:
            entry = entry_of(log, number)
            if not UID.fullmatch(entry.uid):
                raise BadInput("its permanent name (uid) is not one")
            names = log.connection.execute(
                "SELECT sha256 FROM entry_files WHERE entry = ?", (number,)
            ).fetchall()
            for (sha256,) in names:
                content_of(log, sha256)
            sound[number] = entry
        except BadInput as error:
            damages.append(Damage(number, error.message))
        except (sqlite3.Error, UnicodeDecodeError) as error:
            damages.append(Damage(number, f"cannot be read ({shown(str(error))})"))
    for number, entry in list(sound.items()):
        details = entry.details
        if isinstance(details, VerificationDetails):
            lost = [n for n in (details.reading, details.correction) if n not in sound]
            if lost:
                damages.append(Damage(number, f"points to entry {lost[0]}, which is lost"))
                del sound[number]
    entries = sorted(sound.values(), key=lambda entry: (entry.moment, entry.id))
    return tuple(entries), tuple(sorted(damages, key=lambda damage: damage.entry))


def _numbers(log: PrintLog) -> Iterator[int]:
    """Return the numbers of all entries, also where the list of them breaks off."""
    found: set[int] = set()
    ends = []
    for order in ("ASC", "DESC"):
        last = None
        try:
            for row in log.connection.execute(f"SELECT id FROM entries ORDER BY id {order}"):
                last = int(row["id"])
                found.add(last)
        except (sqlite3.DatabaseError, UnicodeDecodeError):
            ends.append(last)
            continue
        break
    else:
        # Neither end leads through: what lies between is tried one by one.
        begin, end = (ends[0] or 0) + 1, ends[1] or _MOST_TRIED
        found.update(n for n in range(begin, min(end, begin + _MOST_TRIED)) if _is_there(log, n))
    return iter(sorted(found))


def _is_there(log: PrintLog, number: int) -> bool:
    try:
        row = log.connection.execute("SELECT 1 FROM entries WHERE id = ?", (number,)).fetchone()
    except (sqlite3.DatabaseError, UnicodeDecodeError):
        return True
    return row is not None
