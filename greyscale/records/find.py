"""Which entries of the log a person asks for."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.nearest import name_key, same_name
from greyscale.records.entries import (
    CORRECTION,
    KINDS,
    READING,
    TABLES,
    Entry,
    KeptFile,
    LoggedNames,
    checked,
    details_of,
)
from greyscale.records.print_log import PrintLog

# What in the log belongs to an entry: what was made from it, what it was found to be.

_POINTING = {
    READING: (
        ("Verified in", "SELECT entry FROM verifications WHERE reading = ?"),
        ("Strip of", "SELECT entry FROM prints WHERE strip = ?"),
        (
            "Used for",
            "SELECT DISTINCT s.correction FROM correction_sources s JOIN entry_files f "
            "ON f.sha256 = s.sha256 WHERE f.role = 'reading' AND f.entry = ?",
        ),
    ),
    CORRECTION: (
        ("Followed by", "SELECT entry FROM corrections WHERE follows = ?"),
        ("Printed in", "SELECT entry FROM readings WHERE through = ?"),
        ("Verified in", "SELECT entry FROM verifications WHERE correction = ?"),
        ("Prints", "SELECT entry FROM prints WHERE correction = ?"),
    ),
}
_NOTES = ("Notes", "SELECT entry FROM notes WHERE about = ?")


def links_of(log: PrintLog, entry: Entry) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Return the entries that belong to an entry: in which way, and their numbers."""
    found = []
    for name, query in (*_POINTING.get(entry.kind, ()), _NOTES):
        rows = log.connection.execute(f"{query} ORDER BY 1", (entry.id,)).fetchall()
        if rows:
            found.append((name, tuple(int(row[0]) for row in rows)))
    return tuple(found)


@dataclass(frozen=True)
class Wanted(LoggedNames):
    """Which entries are asked for; None asks for all.

    Attributes
    ----------
    kind
        One of `KINDS`.
    printer, paper, inks, settings
        Part of the name, whatever its case and spaces.
    since, until
        First and last day.
    text
        Part of an entry's name, of a note, of a printer, paper, inks or settings, or of a file's
        name.
    """

    kind: str | None = None
    since: date | None = None
    until: date | None = None
    text: str | None = None


_NAMES = "".join(f" LEFT JOIN {table} ON {table}.id = e.{what}" for what, table in TABLES.items())
_COLUMNS = ", ".join(f"{table}.name AS {what}_name" for what, table in TABLES.items())
_ENTRIES = f"SELECT e.*, {_COLUMNS} FROM entries e{_NAMES}"


def find(log: PrintLog, wanted: Wanted | None = None) -> tuple[Entry, ...]:
    """Return the entries asked for, the oldest first.

    Raises
    ------
    BadInput
        For a kind that there is not.
    """
    conditions, values = _conditions(log, wanted or Wanted())
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    rows = log.connection.execute(f"{_ENTRIES}{where} ORDER BY e.moment, e.id", values).fetchall()
    return tuple(_entry(log, row) for row in rows)


def entry_of(log: PrintLog, number: int) -> Entry:
    """Return one entry by its number.

    Raises
    ------
    BadInput
        If there is none.
    """
    row = None
    # SQLite counts no further; what lies beyond is no entry either.
    if abs(number) < 1 << 63:
        row = log.connection.execute(f"{_ENTRIES} WHERE e.id = ?", (number,)).fetchone()
    if row is None:
        raise BadInput(
            f"there is no entry {number} in this print log; 'greyscale log list' shows all",
            log.path,
        )
    return _entry(log, row)


_TITLE = "e.name || CASE WHEN c.round > 1 THEN ', round ' || c.round ELSE '' END"
"""SQL: the title of the correction `c` of the entry `e`, as `Correction.title` has it."""


def correction_titles(log: PrintLog) -> list[str]:
    """Return the titles of all corrections, each once."""
    rows = log.connection.execute(
        f"SELECT DISTINCT {_TITLE} FROM entries e JOIN corrections c ON c.entry = e.id"
    )
    return [str(row[0]) for row in rows]


def correction_called(
    log: PrintLog, title: str, named: Mapping[str, object] | None = None
) -> int | None:
    """Return the entry of the correction that a chart's layout says it was sent through.

    Parameters
    ----------
    title
        Its name, and its round from the second on, as `Correction.title` has it.
    named
        What is known of the chart's printer, paper, inks and settings, as far as it is: the
        correction of another print is not meant.

    Returns
    -------
    Of several of one print the last that was made; None where the log has none, or where
    corrections of several prints are called so.
    """
    rows = log.connection.execute(
        f"{_ENTRIES} JOIN corrections c ON c.entry = e.id WHERE name_key({_TITLE}) = ? "
        "ORDER BY e.moment DESC, e.id DESC",
        (name_key(title),),
    )
    known = {what: str(name) for what in TABLES if (name := (named or {}).get(what))}
    found = [
        row
        for row in rows
        if all(same_name(row[f"{what}_name"] or name, name) for what, name in known.items())
    ]
    prints = {tuple(row[what] for what in TABLES) for row in found}
    return int(found[0]["id"]) if len(prints) == 1 else None


def correction_of_picture(log: PrintLog, path: Path) -> int | None:
    """Return the entry of the correction that a picture says it has gone through.

    Returns
    -------
    None where it says none, or is no picture.

    Raises
    ------
    BadInput
        If that correction is not in the log.
    """
    from greyscale.applying.apply import gone_through
    from greyscale.pictures.formats import read_picture

    try:
        gone = gone_through(read_picture(path))
    except BadInput:
        return None
    if gone is None:
        return None
    row = log.connection.execute(
        "SELECT entry FROM corrections WHERE identifier = ?", (gone.identifier,)
    ).fetchone()
    if row is None:
        raise BadInput(
            f"the picture says that it has gone through the correction '{gone.name}', which is "
            "not in this log; name its folder",
            "--correction",
        )
    return int(row["entry"])


def count(log: PrintLog) -> int:
    """Return the number of all entries."""
    return int(log.connection.execute("SELECT count(*) FROM entries").fetchone()[0])


def _conditions(log: PrintLog, wanted: Wanted) -> tuple[list[str], list[object]]:
    conditions: list[str] = []
    values: list[object] = []
    if wanted.kind is not None:
        if wanted.kind not in KINDS:
            raise BadInput(
                f"'{wanted.kind}' is not a kind of entry; take one of {', '.join(KINDS)}"
            )
        conditions.append("e.kind = ?")
        values.append(wanted.kind)
    for what, table in TABLES.items():
        part = getattr(wanted, what)
        if part is not None:
            # A whole name means itself: 'lustre' can be asked for beside 'lustre 260'.
            name = name_key(part)
            whole = log.connection.execute(f"SELECT 1 FROM {table} WHERE plain = ?", (name,))
            is_whole = whole.fetchone() is not None
            conditions.append(f"{table}.plain = ?" if is_whole else f"instr({table}.plain, ?) > 0")
            values.append(name)
    if wanted.since is not None:
        conditions.append("e.moment >= ?")
        values.append(datetime.combine(wanted.since, time()).isoformat())
    if wanted.until is not None and wanted.until < date.max:
        conditions.append("e.moment < ?")
        values.append(datetime.combine(wanted.until + timedelta(days=1), time()).isoformat())
    if wanted.text is not None:
        places = [
            "name_key(e.name)",
            *(f"coalesce({table}.plain, '')" for table in TABLES.values()),
            "name_key(coalesce((SELECT text FROM notes WHERE entry = e.id), ''))",
            "name_key(coalesce((SELECT group_concat(name) FROM entry_files "
            "WHERE entry = e.id), ''))",
        ]
        conditions.append(f"({' OR '.join(f'instr({place}, ?) > 0' for place in places)})")
        values.extend([name_key(wanted.text)] * len(places))
    return conditions, values


def _entry(log: PrintLog, row: sqlite3.Row) -> Entry:
    try:
        entry = Entry(
            id=row["id"],
            uid=row["uid"],
            kind=row["kind"],
            name=row["name"],
            moment=datetime.fromisoformat(row["moment"]),
            moment_from=row["moment_from"],
            added=datetime.fromisoformat(row["added"]),
            version=row["version"],
            **{what: row[f"{what}_name"] for what in TABLES},
            files=_files(log, row["id"]),
            details=details_of(log, row["kind"], row["id"]),
        )
        return checked(entry)
    except (IndexError, KeyError, TypeError, ValueError) as error:
        raise BadInput(
            f"is damaged at entry {row['id']}: {error}; 'greyscale log rescue -o NEW.sqlite3' "
            "saves all that is sound",
            log.path,
        ) from error


def _files(log: PrintLog, number: int) -> tuple[KeptFile, ...]:
    rows = log.connection.execute(
        "SELECT role, name, sha256, size FROM entry_files JOIN files USING (sha256) "
        "WHERE entry = ? ORDER BY role, name",
        (number,),
    )
    return tuple(checked(KeptFile(**row)) for row in rows)
