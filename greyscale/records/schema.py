"""The print log's tables, and how a log of an earlier program is brought up to date."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Sequence
from contextlib import closing
from functools import cache
from importlib import resources

from greyscale.base.errors import BadInput
from greyscale.base.nearest import name_key

APPLICATION_ID = 0x6753_4C67
"""Written into the file's head (SQLite's `application_id`): this database is a print log."""

_SCRIPT = re.compile(r"(\d{3})-[a-z0-9-]+\.sql")


@cache
def migrations() -> tuple[str, ...]:
    """Return the scripts that lead from an empty database to the tables of today, in order.

    Script number n (from 1) leads to schema version n. A script is never changed once it was
    published: another one is added.
    """
    folder = resources.files("greyscale.records") / "migrations"
    scripts = sorted(entry.name for entry in folder.iterdir() if _SCRIPT.fullmatch(entry.name))
    return tuple((folder / name).read_text(encoding="utf-8") for name in scripts)


def schema_version(connection: sqlite3.Connection) -> int:
    """Return the version of a database's tables; 0 where there are none."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def is_print_log(connection: sqlite3.Connection) -> bool:
    """Say whether the database is a print log, whatever its version."""
    found = int(connection.execute("PRAGMA application_id").fetchone()[0])
    return found == APPLICATION_ID


def is_empty(connection: sqlite3.Connection) -> bool:
    """Say whether the database holds nothing at all."""
    return connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone() is None


def is_new(connection: sqlite3.Connection, source: object, *, damaged: bool = False) -> bool:
    """Say whether a database is empty; if not, it is a print log, as this program makes them.

    All is asked at one time: another process may be making the log just now.

    Parameters
    ----------
    damaged
        Whether tables and indexes may be missing, or others than they should be: to save the rest.

    Raises
    ------
    BadInput
        If it is a database of something else, or more or less than a print log.
    """
    connection.execute("BEGIN")
    try:
        made, empty = is_print_log(connection), is_empty(connection)
        found = _parts(connection) if made else {}
        version = schema_version(connection)
    finally:
        roll_back(connection)
    if not made and not empty:
        raise BadInput("is a database of something else; give a print log, or a new name", source)
    if made and 0 < version <= len(migrations()):
        _refuse_other_parts(found, _parts_of(version), source, damaged)
    return empty


_Parts = dict[tuple[str, str], str]


def _parts(connection: sqlite3.Connection) -> _Parts:
    """Return how each table, index, view and trigger was made, by its kind and name."""
    rows = connection.execute(
        "SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite!_%' ESCAPE '!'"
    )
    # Versions of SQLite differ in how they quote what they write anew.
    return {(kind, name): re.sub(r'["\s]+', "", sql or "").lower() for kind, name, sql in rows}


@cache
def _parts_of(version: int) -> _Parts:
    """Return the same of a log of some version."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        _run(connection, migrations()[:version])
        return _parts(connection)


def _refuse_other_parts(found: _Parts, known: _Parts, source: object, damaged: bool) -> None:
    """Refuse a log that has more parts than it should, fewer, or others."""
    for kind, name in found:
        # One that is called like a table would be read in its place, and need never end.
        if (kind, name) not in known:
            raise BadInput(
                f"holds '{name}', a {kind} that no print log has; take an export of it, from where "
                "it was kept",
                source,
            )
    for part, sql in known.items():
        if not damaged and found.get(part) != sql:
            what = "is not as a print log has it" if part in found else "is missing"
            raise BadInput(
                f"is damaged: its {part[0]} '{part[1]}' {what}; 'greyscale log rescue -o "
                "NEW.sqlite3' saves all that is sound",
                source,
            )


def migrate(
    connection: sqlite3.Connection, source: object, scripts: Sequence[str] | None = None
) -> None:
    """Bring the tables up to date, all or nothing; several processes may try at once.

    Parameters
    ----------
    connection
        In autocommit mode (`isolation_level` None).
    source
        The file, for messages.
    scripts
        The migrations; None takes those of this program.

    Raises
    ------
    BadInput
        If the log is of a newer program than this.
    """
    steps = migrations() if scripts is None else scripts
    refuse_newer(connection, source, len(steps))
    if schema_version(connection) == len(steps):
        return
    # A table that others point to may be made anew meanwhile, with the same rows: their references
    # hold before and after (https://www.sqlite.org/lang_altertable.html, section 7).
    held = connection.execute("PRAGMA foreign_keys").fetchone()[0]
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Another process may have done it, or more, while this one waited.
        refuse_newer(connection, source, len(steps))
        _run(connection, steps[schema_version(connection) :])
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(steps)}")
        connection.execute("COMMIT")
    except BaseException:
        roll_back(connection)
        raise
    finally:
        connection.execute(f"PRAGMA foreign_keys = {held}")


def roll_back(connection: sqlite3.Connection) -> None:
    """End a transaction without its changes; some errors, as of a full disk, have ended it."""
    if connection.in_transaction:
        connection.execute("ROLLBACK")


def refuse_newer(connection: sqlite3.Connection, source: object, known: int) -> None:
    """Refuse a log whose tables are of a newer version than `known`.

    Raises
    ------
    BadInput
        Naming both versions.
    """
    found = schema_version(connection)
    if found > known:
        raise BadInput(
            f"this print log was written by a newer greyscale (log version {found}; this one knows "
            f"{known}); update greyscale",
            source,
        )


def _run(connection: sqlite3.Connection, scripts: Iterable[str]) -> None:
    """Run scripts statement by statement: one run as a whole would end the transaction."""
    connection.create_function("name_key", 1, name_key, deterministic=True)
    for script in scripts:
        statement = ""
        for line in script.splitlines(keepends=True):
            statement += line
            if sqlite3.complete_statement(statement):
                connection.execute(statement)
                statement = ""
