"""What of a print log is sound, entry by entry."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from greyscale.base.errors import BadInput, shown
from greyscale.records.entries import Entry, VerificationDetails
from greyscale.records.find import entry_of
from greyscale.records.kept_files import content_of
from greyscale.records.print_log import PrintLog

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
