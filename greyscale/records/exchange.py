"""The whole log in open formats: one JSON file, or JSON beside the files as they were given.

Schema "greyscale/print-log/1": entries name each other by `uid`, files by their SHA-256.
"""

from __future__ import annotations

import base64
import binascii
import dataclasses
import hashlib
import json
import os
import re
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from greyscale import __version__
from greyscale.base.errors import BadInput, shown
from greyscale.base.files import followed, keep_inputs, write_whole
from greyscale.base.folders import files_together, temporary, whole_folder
from greyscale.base.outputs import refuse_to_replace
from greyscale.base.results import json_text
from greyscale.correction.as_json import Fields, read_fields
from greyscale.readings.source_file import read_bytes
from greyscale.records.adding import (
    Stated,
    insert_entry,
    link_corrections,
    name_id,
    number_of,
    utc_now,
)
from greyscale.records.entries import (
    CORRECTION,
    DETAILS,
    DRYING,
    KINDS,
    MOMENT_FROM,
    NOTE,
    POINTERS,
    PRINT,
    READING,
    TABLES,
    VERIFICATION,
    CorrectionDetails,
    Details,
    Entry,
    KeptFile,
    ReadingDetails,
    SourceReading,
    VerificationDetails,
    attach,
    content_of,
    safe_name,
)
from greyscale.records.find import entry_of
from greyscale.records.print_log import PrintLog, open_log

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
    text, count, damages = _exported(log, lambda kept: _as_text(content_of(log, kept.sha256)))
    write_whole(path, text)
    return count, damages


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

        def placed(kept: KeptFile) -> Data:
            name = f"{FILES}/{kept.sha256[:16]}-{safe_name(kept.name)}"
            write_whole(fresh / name, content_of(log, kept.sha256))
            return {"path": name}

        text, count, damages = _exported(log, placed)
        write_whole(fresh / JSON, text)
    return count, damages


def _exported(
    log: PrintLog, placed: Callable[[KeptFile], Data]
) -> tuple[str, int, tuple[Damage, ...]]:
    """Return the JSON of all that is sound, how many entries that is, and what was left out.

    `placed` says where the content of a kept file is; it is asked for each once.
    """
    with log.at_one_time():
        entries, damages = look_through(log)
        # Each under the name that it was kept by first.
        once = {kept.sha256: kept for entry in entries[::-1] for kept in entry.files}.values()
        files = [
            {"name": kept.name, "sha256": kept.sha256, "size": kept.size, **placed(kept)}
            for kept in once
        ]
    uids = {entry.id: entry.uid for entry in entries}
    document = {
        "schema": SCHEMA,
        "version": __version__,
        "exported": utc_now(),
        "entries": [entry_data(entry, uids.get) for entry in entries],
        "files": files,
    }
    return json_text(document), len(entries), damages


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
    """Return an entry as plain data; other entries by what `name_of` gives for their numbers."""
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
    return {
        "uid": entry.uid,
        "kind": entry.kind,
        "name": entry.name,
        "moment": entry.moment.isoformat(timespec="seconds"),
        "moment_from": entry.moment_from,
        "added": entry.added.isoformat(timespec="seconds"),
        "version": entry.version,
        **{what: getattr(entry, what) for what in TABLES},
        "files": [asdict(kept) for kept in entry.files],
        entry.kind: data,
    }


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
    """An entry that cannot be given back as it was."""

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


_DIGEST = re.compile(r"[0-9a-f]{64}")
LARGEST_EXPORT = 1_000_000_000
"""Bytes: some ten thousand readings in one file; a folder holds any number."""

_ROLES = (READING, "layout", CORRECTION)
_HOURS = (0.0, 1e5)

# Entries come after those that they point to.
_ORDER = (CORRECTION, READING, VERIFICATION, PRINT, DRYING, NOTE)


@dataclass(frozen=True)
class Imported:
    """How many entries an import added, and how many were there already."""

    added: int
    known: int


def import_log(log: PrintLog, path: Path | str) -> Imported:
    """Add what an export, a file or a folder, holds, all or nothing; the same again adds nothing.

    Raises
    ------
    BadInput
        If it is no export, is damaged, or a file in it is not what it was.
    """
    source = Path(path)
    document = source / JSON if os.path.isdir(source) else source
    if not os.path.isfile(document):
        raise BadInput(
            f"there is no exported print log here; give its JSON file, or the folder with {JSON}",
            path,
        )
    data = read_fields(document, SCHEMA, LARGEST_EXPORT)
    contents = dict(_content(fields, document) for fields in data.list_of_fields("files"))
    entries = data.list_of_fields("entries")
    for entry in entries:
        _refuse_unknown(entry, document)
    entries.sort(key=lambda entry: _ORDER.index(entry.text("kind")))
    try:
        with log.writing():
            added = [entry for entry in entries if _import(log, entry, contents, document)]
            for entry in added:
                _point(log, entry, document)
            link_corrections(log)
    except sqlite3.IntegrityError as error:
        raise BadInput(
            f"contradicts itself ({error}); take an undamaged copy of the file", document
        ) from error
    return Imported(len(added), len(entries) - len(added))


def _refuse_unknown(entry: Fields, source: Path) -> None:
    known = (
        ("kind", entry.text("kind") in KINDS),
        ("uid", UID.fullmatch(entry.text("uid"))),
        ("moment_from", entry.text("moment_from") in MOMENT_FROM),
        ("files", all(file.text("role") in _ROLES for file in entry.list_of_fields("files"))),
    )
    for key, is_known in known:
        if not is_known:
            raise BadInput(
                f"entry '{entry.text('uid')[:16]}' has '{key}' that no print log has; take an "
                "undamaged copy of the file",
                source,
            )


def _content(fields: Fields, document: Path) -> tuple[str, bytes]:
    """Return a file's SHA-256 and content, from within the JSON or from beside it."""
    digest, name = fields.text("sha256"), fields.text("name")
    stated = None if fields.optional_text("text") is None else fields.text_as_it_is("text")
    packed, path = fields.optional_text("base64"), fields.optional_text("path")
    try:
        if stated is not None:
            content = stated.encode("utf-8")
        elif packed is not None:
            content = base64.b64decode(packed, validate=True)
        else:
            content = read_bytes(document.parent / FILES / safe_name(path or ""))
    except (OSError, UnicodeEncodeError, binascii.Error) as error:
        raise BadInput(f"the file '{name}' in it cannot be read ({error})", document) from error
    if not _DIGEST.fullmatch(digest) or hashlib.sha256(content).hexdigest() != digest:
        raise BadInput(
            f"the file '{name}' in it is not what was exported (its SHA-256 differs); take an "
            "undamaged copy",
            document,
        )
    return digest, content


def _import(log: PrintLog, entry: Fields, contents: Mapping[str, bytes], source: Path) -> bool:
    """Add an entry, or fill in what it knows more of one that is there; say whether it is new."""
    uid, kind = entry.text("uid"), entry.text("kind")
    number = number_of(log, uid)
    if number is not None:
        _fill_in(log, number, entry)
        return False
    names: dict[str, Any] = {what: entry.optional_text(what) for what in TABLES}
    number = insert_entry(
        log,
        uid,
        entry.text("name"),
        (entry.moment("moment"), entry.text("moment_from")),
        Stated(**names),
        _read_details(log, kind, entry.fields(kind), source),
        added=entry.moment("added").isoformat(timespec="seconds"),
        version=entry.text("version"),
    )
    for kept in entry.list_of_fields("files"):
        digest = kept.text("sha256")
        if digest not in contents:
            raise BadInput(
                f"the file '{kept.text('name')}' of entry '{entry.text('name')}' is missing in it; "
                "take an undamaged copy",
                source,
            )
        attach(log, number, kept.text("role"), safe_name(kept.text("name")), contents[digest])
    return True


def _fill_in(log: PrintLog, number: int, entry: Fields) -> None:
    for what in TABLES:
        log.connection.execute(
            f"UPDATE entries SET {what} = ? WHERE id = ? AND {what} IS NULL",
            (name_id(log, what, entry.optional_text(what)), number),
        )
    if entry.text("kind") == READING:
        details = entry.fields(READING)
        through = _optional(log, details.optional_text("through"))
        stated = through is not None or (details.has("stated") and details.flag("stated"))
        log.connection.execute(
            "UPDATE readings SET through = ?, stated = ? WHERE entry = ? AND NOT stated",
            (through, stated, number),
        )


def _read_details(log: PrintLog, kind: str, data: Fields, source: Path) -> Details:
    made = DETAILS[kind]
    given: dict[str, Any] = {}
    types = {field.name: field.type for field in dataclasses.fields(made)}
    for name, other in POINTERS[kind].items():
        uid = data.text(name) if types[name] == "int" else data.optional_text(name)
        # What may not be there yet follows: see `_point`.
        later = uid is None or other in (None, kind)
        given[name] = None if later else _there(log, str(uid), str(other), source)
    if kind == READING:
        # What was exported before it was asked is not known, unless it names a correction.
        given["stated"] = given["through"] is not None or (
            data.has("stated") and data.flag("stated")
        )
    elif kind == CORRECTION:
        sources = data.list_of_fields("sources")
        given["sources"] = tuple(one.made(SourceReading, entries=()) for one in sources)
    elif kind == VERIFICATION:
        given["result"] = json.dumps(data.mapping("result"), ensure_ascii=False)
        # An earlier program exported none: nobody scored it then.
        given["kept"] = data.flag("kept") if data.has("within_stated") else None
    elif kind == PRINT:
        given["file"] = safe_name(data.text("file"))
        if not _DIGEST.fullmatch(data.text("sha256")):
            raise BadInput(
                "a print in it has a 'sha256' that is not one; take an undamaged copy", source
            )
    elif kind == DRYING:
        given = {name: data.number(name, _HOURS) for name in types}
    return data.made(made, **given)


def _point(log: PrintLog, entry: Fields, source: Path) -> None:
    """Let entries point to those of their own kind, now that all are there."""
    number, kind = number_of(log, entry.text("uid")), entry.text("kind")
    if kind == CORRECTION:
        follows = entry.fields(CORRECTION).optional_text("follows")
        if follows is not None:
            before = _there(log, follows, CORRECTION, source)
            log.connection.execute(
                "UPDATE corrections SET follows = ? WHERE entry = ?", (before, number)
            )
    if kind == NOTE:
        about = _optional(log, entry.fields(NOTE).optional_text("about"))
        log.connection.execute("UPDATE notes SET about = ? WHERE entry = ?", (about, number))


def _optional(log: PrintLog, uid: str | None) -> int | None:
    return None if uid is None else number_of(log, uid)


def _there(log: PrintLog, uid: str, kind: str, source: Path) -> int:
    """Return the number of an entry that must be there, and of this kind."""
    row = log.connection.execute(
        "SELECT id FROM entries WHERE uid = ? AND kind = ?", (uid, kind)
    ).fetchone()
    if row is None:
        raise BadInput(
            f"an entry in it points to the {kind} '{uid[:16]}', which is not there; take an "
            "undamaged copy",
            source,
        )
    return int(row["id"])


# How all that is sound is saved from a damaged print log, into a new one.


def rescue(log: PrintLog, path: Path | str) -> tuple[int, tuple[Damage, ...]]:
    """Write all that is sound into a new log; give the number of entries, and what is lost.

    Raises
    ------
    BadInput
        If there is a file already, or nothing can be written.
    """
    target = followed(path)
    if target.exists():
        raise BadInput("is there already; give a new name for the rescued log", target)
    # Its name begins with a dot as those of all that is in the making, of which nothing is told.
    with temporary(".greyscale-log-") as folder:
        # Not in the folder itself, which is locked for as long as this process lives.
        sound = folder / "export" / "sound"
        count, damages = export_folder(log, sound)
        with files_together(target.parent) as fresh:
            made = fresh / target.name
            with open_log(made, write=True) as new:
                import_log(new, sound)
            for ending in ("-wal", "-shm"):
                Path(f"{made}{ending}").unlink(missing_ok=True)
    return count, damages
