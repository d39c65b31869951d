"""Entries of the print log as JSON, schemas "greyscale/log/1" and "greyscale/log-entry/1"."""

from __future__ import annotations

from collections.abc import Sequence

from greyscale.records.entries import Entry
from greyscale.records.export import entry_data
from greyscale.reporting.json_output import Data

LIST_SCHEMA = "greyscale/log/1"
ENTRY_SCHEMA = "greyscale/log-entry/1"


def log_data(entries: Sequence[Entry]) -> Data:
    """Give entries as plain data; they name each other by their number, `id`."""
    return {"schema": LIST_SCHEMA, "entries": [_entry(entry) for entry in entries]}


def log_entry_data(entry: Entry) -> Data:
    """Give one entry as plain data."""
    return {"schema": ENTRY_SCHEMA, **_entry(entry)}


def _entry(entry: Entry) -> Data:
    return {"id": entry.id, **entry_data(entry, lambda number: number)}
