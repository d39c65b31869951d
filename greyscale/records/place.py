"""Where the print log is kept unless a person says otherwise."""

from __future__ import annotations

from pathlib import Path

NAME = "print-log.sqlite3"


def default_place() -> Path:
    """Return the print log's path in the user's data folder, as each system has it."""
    from platformdirs import user_data_path

    return user_data_path("greyscale", appauthor=False) / NAME
