"""What in the log belongs to an entry: what was made from it, what it was found to be."""

from __future__ import annotations

from greyscale.records.entries import CORRECTION, READING, Entry
from greyscale.records.print_log import PrintLog

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
    """Give the entries that belong to an entry: in which way, and their numbers."""
    found = []
    for name, query in (*_POINTING.get(entry.kind, ()), _NOTES):
        rows = log.connection.execute(f"{query} ORDER BY 1", (entry.id,)).fetchall()
        if rows:
            found.append((name, tuple(int(row[0]) for row in rows)))
    return tuple(found)
