"""How an exported log comes into this one: what is there stays, what is missing is added."""

from __future__ import annotations

import base64
import binascii
import dataclasses
import hashlib
import json
import os
import re
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from greyscale.base.errors import BadInput
from greyscale.base.files import followed
from greyscale.base.folders import files_together, temporary
from greyscale.correction.json_fields import Fields, read_fields
from greyscale.readings.source_file import read_bytes
from greyscale.records.adding import (
    Stated,
    insert_entry,
    link_corrections,
    name_id,
    number_of,
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
    Details,
    SourceReading,
)
from greyscale.records.export import FILES, JSON, SCHEMA, UID, Damage, export_folder
from greyscale.records.kept_files import attach, safe_name
from greyscale.records.print_log import PrintLog, open_log

_DIGEST = re.compile(r"[0-9a-f]{64}")
LARGEST_EXPORT = 1_000_000_000
"""Bytes: some ten thousand readings in one file; a folder holds any number."""

_ROLES = (READING, "layout", CORRECTION)
_HOURS = (0.0, 1e5)

# Entries come after those that they point to.
_ORDER = (CORRECTION, READING, VERIFICATION, PRINT, DRYING, NOTE)


@dataclass(frozen=True)
class Imported:
    """What an import did.

    Attributes
    ----------
    added, known
        How many entries are new, and how many were there already.
    """

    added: int
    known: int


def import_log(log: PrintLog, path: Path | str) -> Imported:
    """Add what an export holds, all or nothing. The same again changes nothing.

    Parameters
    ----------
    path
        A JSON file, or a folder with `print-log.json`, as `greyscale log export` writes them.

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
        _details(log, kind, entry.fields(kind), source),
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


def _details(log: PrintLog, kind: str, data: Fields, source: Path) -> Details:
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
    with temporary("greyscale-log-") as folder:
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
