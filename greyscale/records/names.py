"""Printers, papers, inks and settings: names that are the same whatever their case and spaces."""

from __future__ import annotations

from greyscale.base.plain_text import plain_text
from greyscale.records.plain_name import plain_name
from greyscale.records.print_log import PrintLog

TABLES = {"printer": "printers", "paper": "papers", "inks": "inks", "settings": "settings"}
"""The table that holds the names of each."""


def name_id(log: PrintLog, what: str, name: str | None) -> int | None:
    """Return the row of a printer, paper, inks or settings, made if it is new; None for none.

    Parameters
    ----------
    what
        A key of `TABLES`.
    """
    if name is None or not name.strip():
        return None
    table, plain = TABLES[what], plain_name(name)
    log.connection.execute(
        f"INSERT INTO {table} (name, plain) VALUES (?, ?) ON CONFLICT (plain) DO NOTHING",
        (" ".join(plain_text(name).split()), plain),
    )
    found = log.connection.execute(f"SELECT id FROM {table} WHERE plain = ?", (plain,)).fetchone()
    return int(found["id"])
