"""What only one kind of entry has: how it is put into the tables, and taken out again."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import fields
from typing import TypeVar, get_type_hints

from greyscale.records.entries import (
    CORRECTION,
    DRYING,
    NOTE,
    PRINT,
    READING,
    VERIFICATION,
    CorrectionDetails,
    Details,
    DryingDetails,
    NoteDetails,
    PrintDetails,
    ReadingDetails,
    SourceReading,
    VerificationDetails,
)
from greyscale.records.print_log import PrintLog

_Made = TypeVar("_Made")

_KINDS: dict[str, type[Details]] = {
    READING: ReadingDetails,
    CORRECTION: CorrectionDetails,
    VERIFICATION: VerificationDetails,
    NOTE: NoteDetails,
    PRINT: PrintDetails,
    DRYING: DryingDetails,
}
_FLAGS = ("spectral", "stated", "within_tolerance", "kept", "chart")
_SOURCES = "sources"


def insert_details(log: PrintLog, entry: int, details: Details) -> None:
    """Put an entry's details into the table of its kind: its columns are the fields."""
    kind = next(kind for kind, made in _KINDS.items() if isinstance(details, made))
    names = [field.name for field in fields(details) if field.name != _SOURCES]
    log.connection.execute(
        f"INSERT INTO {kind}s (entry, {', '.join(names)}) VALUES (?{', ?' * len(names)})",
        (entry, *(getattr(details, name) for name in names)),
    )
    if isinstance(details, CorrectionDetails):
        log.connection.executemany(
            "INSERT INTO correction_sources (correction, position, name, round, sha256) "
            "VALUES (?, ?, ?, ?, ?)",
            [
                (entry, position, source.name, source.round, source.sha256)
                for position, source in enumerate(details.sources)
            ],
        )


def details_of(log: PrintLog, kind: str, entry: int) -> Details:
    """Return an entry's details.

    Raises
    ------
    KeyError, TypeError
        If there is no such kind, or there are none: the log is damaged.
    """
    # A damaged kind must not become part of a statement.
    made = _KINDS[kind]
    row = log.connection.execute(f"SELECT * FROM {kind}s WHERE entry = ?", (entry,)).fetchone()
    if row is None:
        raise TypeError("it has no details")
    values = {name: row[name] for name in row.keys() if name != "entry"}  # noqa: SIM118
    values |= {name: bool(values[name]) for name in _FLAGS if values.get(name) is not None}
    if kind == CORRECTION:
        values[_SOURCES] = _sources(log, entry)
    if kind == VERIFICATION:
        _refuse_no_object(values["result"])
    return checked(made(**values))


def checked(made: _Made) -> _Made:
    """Return a dataclass whose plain fields are of the types that they are declared to be.

    Raises
    ------
    TypeError
        Naming the field: a damaged database holds anything in any column.
    """
    for name, hint in get_type_hints(type(made)).items():
        value = getattr(made, name)
        plain = not hasattr(hint, "__origin__")
        if plain and not isinstance(value, hint | int if hint is float else hint):
            raise TypeError(f"its '{name}' is {value!r}"[:80])
        if isinstance(value, float) and not math.isfinite(value):
            raise TypeError(f"its '{name}' is not a number")
    return made


def _refuse_no_object(text: object) -> None:
    """Refuse what is no JSON object, or is nested too deep to be read.

    Raises
    ------
    TypeError
        Saying so.
    """
    try:
        found = json.loads(text) if isinstance(text, str) else None
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise TypeError("its result is not a JSON object")


def _sources(log: PrintLog, correction: int) -> Sequence[SourceReading]:
    rows = log.connection.execute(
        "SELECT name, round, sha256 FROM correction_sources WHERE correction = ? ORDER BY position",
        (correction,),
    ).fetchall()
    return tuple(
        checked(SourceReading(**row, entries=_readings_of(log, row["sha256"]))) for row in rows
    )


def _readings_of(log: PrintLog, sha256: str | None) -> tuple[int, ...]:
    rows = log.connection.execute(
        "SELECT entry FROM entry_files WHERE role = 'reading' AND sha256 = ? ORDER BY entry",
        (sha256,),
    )
    return tuple(row["entry"] for row in rows)
