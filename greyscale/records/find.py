"""Which entries there are, and which of their readings belong together: made alike."""

from __future__ import annotations

import shlex
import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from greyscale.base.errors import BadInput, name_key, same_name
from greyscale.records.entries import (
    CORRECTION,
    KINDS,
    READING,
    TABLES,
    Entry,
    KeptFile,
    LoggedNames,
    ReadingDetails,
    checked,
    details_of,
)
from greyscale.records.print_log import PrintLog

if TYPE_CHECKING:
    from greyscale.analysis.trend import DatedAnalysis

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
        files = log.connection.execute(
            "SELECT role, name, sha256, size FROM entry_files JOIN files USING (sha256) "
            "WHERE entry = ? ORDER BY role, name",
            (row["id"],),
        ).fetchall()
        entry = Entry(
            **{what: row[what] for what in ("id", "uid", "kind", "name", "moment_from", "version")},
            moment=datetime.fromisoformat(row["moment"]),
            added=datetime.fromisoformat(row["added"]),
            **{what: row[f"{what}_name"] for what in TABLES},
            files=tuple(checked(KeptFile(**kept)) for kept in files),
            details=details_of(log, row["kind"], row["id"]),
        )
        return checked(entry)
    except (IndexError, KeyError, TypeError, ValueError) as error:
        raise BadInput(
            f"is damaged at entry {row['id']}: {error}; 'greyscale log rescue -o NEW.sqlite3' "
            "saves all that is sound",
            log.path,
        ) from error


UNKNOWN = "none"
"""Stands for what is not known, and for no correction, in options."""

_CHOICES = 12


def likeness(entry: Entry) -> dict[str, str]:
    """Return what must be the same of any reading that this one is compared with.

    By the names of the options that choose it, printer and paper to the correction that the chart
    was printed through; `UNKNOWN` where it is not known.
    """
    details = entry.details
    assert isinstance(details, ReadingDetails)
    how = ("condition", "backing", "observer", "ramp")
    found = {what: getattr(entry, what) for what in TABLES}
    found |= {what: getattr(details, what) for what in how} | {"correction": details.through}
    return {what: str(of or UNKNOWN) for what, of in found.items()}


def by_statement(entries: Iterable[Entry]) -> tuple[list[Entry], list[Entry]]:
    """Part readings into those of which it was said how they were printed, and the others."""
    told: list[Entry] = []
    untold: list[Entry] = []
    for entry in entries:
        assert isinstance(entry.details, ReadingDetails)
        (told if entry.details.stated else untold).append(entry)
    return told, untold


def groups(entries: Iterable[Entry]) -> list[tuple[Entry, ...]]:
    """Sort readings into groups that were printed and measured alike, the largest first."""
    found: dict[tuple[str, ...], list[Entry]] = {}
    for entry in entries:
        found.setdefault(tuple(map(name_key, likeness(entry).values())), []).append(entry)
    return sorted(map(tuple, found.values()), key=len, reverse=True)


def one_group(entries: Iterable[Entry], source: object) -> tuple[Entry, ...]:
    """Return readings that were all printed and measured alike.

    Raises
    ------
    BadInput
        If there is none, or there are several groups: saying how to choose one.
    """
    found = groups(entries)
    if not found:
        raise BadInput(
            "no reading in this print log is as asked for; 'greyscale log list --kind reading' "
            "shows what is in it",
            source,
        )
    if len(found) == 1:
        return found[0]
    differ = differing(found)
    choices = []
    for group in found[:_CHOICES]:
        own = likeness(group[0])
        options = " ".join(f"--{what} {shlex.quote(own[what])}" for what in differ)
        readings = "reading" if len(group) == 1 else "readings"
        choices.append(f"  {options}   ({len(group)} {readings})")
    if len(found) > _CHOICES:
        choices.append(f"  and {len(found) - _CHOICES} more")
    raise BadInput(
        "these readings were not all printed and measured alike; choose one line:",
        source,
        choices=choices,
    )


def has(entry: Entry, **wanted: str | None) -> bool:
    """Say whether a reading has what is asked for of its `likeness`; "none": what is unknown.

    Each the whole text, whatever its case and spaces; None asks for nothing.
    """
    own = likeness(entry)
    return all(same_name(own[name], text) for name, text in wanted.items() if text is not None)


def notes_about(notes: Iterable[Entry], group: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Return the notes that belong to a group of readings, from the first one's day on.

    A note belongs to it unless it names another printer, paper, inks or settings.
    """
    first = min(entry.moment for entry in group).date()
    return tuple(
        note
        for note in notes
        if note.moment.date() >= first
        and all(
            getattr(note, what) is None
            or same_name(getattr(note, what), getattr(group[0], what) or "")
            for what in TABLES
        )
    )


def differing(found: Iterable[Sequence[Entry]]) -> tuple[str, ...]:
    """Name what several groups differ in."""
    each = [likeness(group[0]) for group in found]
    return tuple(what for what in each[0] if len({name_key(one[what]) for one in each}) > 1)


# The log's readings, analysed alike, as a trend needs them.


def dated_analyses(
    log: PrintLog,
    entries: Sequence[Entry],
    *,
    tolerance: str | None = None,
    watched: Callable[[Sequence[Entry]], Iterable[Entry]] = iter,
) -> tuple[DatedAnalysis, ...]:
    """Analyse readings that were printed and measured alike.

    Prints made through a correction are held against that correction's own aims, all others
    against the usual ones: what is asked is whether they change, not whether they are good.

    Parameters
    ----------
    entries
        Of readings, one group of `greyscale.records.find.groups`.
    watched
        Gives the entries one by one, as to show how far the work is.

    Raises
    ------
    BadInput
        If a reading can no longer be read, or has no ramp.
    """
    # Who lists entries waits for nothing to be analysed by.
    from greyscale.aims.tolerances import DEFAULT_TOLERANCE
    from greyscale.analysis.analyse import analyse
    from greyscale.analysis.trend import DatedAnalysis
    from greyscale.records.entries import correction_of, reading_of

    details = entries[0].details
    assert isinstance(details, ReadingDetails)
    limits = tolerance or DEFAULT_TOLERANCE
    if details.through is None:
        judged = partial(analyse, lights=(), tolerance=limits)
    else:
        from greyscale.correction.verify import analyse_proof

        through = correction_of(log, entry_of(log, details.through))
        judged = partial(analyse_proof, correction=through, tolerance=limits)
    return tuple(
        DatedAnalysis(
            entry.id, entry.moment, judged(replace(reading_of(log, entry), name=entry.name))
        )
        for entry in watched(entries)
    )
