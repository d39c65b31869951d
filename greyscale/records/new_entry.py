"""How an entry comes into the log, or is completed where it is there already."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from greyscale import __version__
from greyscale.records.entries import TOLD, Entry
from greyscale.records.names import TABLES, name_id
from greyscale.records.plain_name import plain_name
from greyscale.records.print_log import PrintLog


@dataclass(frozen=True)
class Told:
    """What a person says about an entry when adding it; it goes before what a file says.

    Attributes
    ----------
    printer, paper, inks, settings
        Names.
    moment
        When it was measured, made, judged or noted.
    """

    printer: str | None = None
    paper: str | None = None
    inks: str | None = None
    settings: str | None = None
    moment: datetime | None = None


@dataclass(frozen=True)
class Added:
    """What adding did.

    Attributes
    ----------
    id, kind, name
        The entry's.
    new
        Whether it was not in the log before.
    changes
        What was filled in or put right in an entry that was there, as phrases.
    """

    id: int
    kind: str
    name: str
    new: bool
    changes: tuple[str, ...] = ()


def with_names_of(entry: Entry, told: Told) -> Told:
    """Give what is told, and where it names no printer, paper, inks or settings, the entry's."""
    return replace(
        told,
        printer=told.printer or entry.printer,
        paper=told.paper or entry.paper,
        inks=told.inks or entry.inks,
        settings=told.settings or entry.settings,
    )


def uid_of(*parts: object) -> str:
    """Give the name that an entry has in every log: the same parts, the same name.

    Examples
    --------
    >>> uid_of("note", 1)[:8], uid_of("note", 2)[:8]
    ('64fb90f3', 'ef822fda')
    """
    return hashlib.sha256("\n".join(map(str, parts)).encode("utf-8")).hexdigest()


def number_of(log: PrintLog, uid: str) -> int | None:
    """Give the number of an entry in this log, or None if it is not there."""
    row = log.connection.execute("SELECT id FROM entries WHERE uid = ?", (uid,)).fetchone()
    return None if row is None else int(row["id"])


def stamp(moment: datetime) -> str:
    """Give a date and time as the log keeps them: to the second, without an offset."""
    return moment.replace(tzinfo=None).isoformat(timespec="seconds")


def utc_now() -> str:
    """Give the date and time in UTC as the log keeps them."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def insert_entry(
    log: PrintLog,
    uid: str,
    kind: str,
    name: str,
    moment: tuple[datetime, str],
    names: Told,
    *,
    added: str | None = None,
    version: str = __version__,
) -> int:
    """Insert what all kinds of entries have; give the entry's number.

    Parameters
    ----------
    moment
        When, and where that is known from.
    names
        Printer, paper, inks and settings.
    added, version
        When it came into a log first, and by which program; None is now.
    """
    cursor = log.connection.execute(
        "INSERT INTO entries (uid, kind, name, moment, moment_from, added, version, printer, "
        "paper, inks, settings) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            uid,
            kind,
            name,
            stamp(moment[0]),
            moment[1],
            utc_now() if added is None else added,
            version,
            *(name_id(log, what, getattr(names, what)) for what in TABLES),
        ),
    )
    return int(cursor.lastrowid or 0)


def complete(log: PrintLog, number: int, told: Told) -> tuple[str, ...]:
    """Put what a person tells into an entry that is there.

    Returns
    -------
    What changed, as phrases.
    """
    changes = []
    for what, table in TABLES.items():
        name = getattr(told, what)
        if name is None:
            continue
        row = log.connection.execute(
            f"SELECT n.name FROM entries e LEFT JOIN {table} n ON n.id = e.{what} WHERE e.id = ?",
            (number,),
        ).fetchone()
        if row["name"] is None or plain_name(row["name"]) != plain_name(name):
            log.connection.execute(
                f"UPDATE entries SET {what} = ? WHERE id = ?", (name_id(log, what, name), number)
            )
            was = "" if row["name"] is None else f", was '{row['name']}'"
            changes.append(f"{what} '{name}'{was}")
    if told.moment is not None:
        row = log.connection.execute(
            "SELECT moment FROM entries WHERE id = ?", (number,)
        ).fetchone()
        if row["moment"] != stamp(told.moment):
            log.connection.execute(
                "UPDATE entries SET moment = ?, moment_from = ? WHERE id = ?",
                (stamp(told.moment), TOLD, number),
            )
            changes.append(f"time {stamp(told.moment)}, was {row['moment']}")
    return tuple(changes)
