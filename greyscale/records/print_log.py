"""The print log as a file: its tables, how it is opened, shared, and what can go wrong."""

from __future__ import annotations

import errno
import os
import re
import sqlite3
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from importlib import resources
from itertools import pairwise
from pathlib import Path
from traceback import clear_frames

from greyscale.base.errors import BadInput, name_key
from greyscale.base.files import locked, resolved
from greyscale.base.folders import remove_left_behind, scratch
from greyscale.base.outputs import default_log
from greyscale.base.plain_text import plain_text

# Copies of a print log beside it, checked, the newest few of them: to go back to.

KEPT = 3
"""So many, `LOG.backup-1` the newest."""

EVERY = 7.0
"""Days from one to the next, where anything is added."""


_FAMILY = ".greyscale-backup-"
"""How the names of folders begin in which one is being made."""


@dataclass(frozen=True)
class Backup:
    """A copy of a print log.

    Attributes
    ----------
    entries
        How many it holds; None where it is damaged.
    """

    path: Path
    made: datetime
    entries: int | None


def back_up(connection: sqlite3.Connection, place: Path) -> None:
    """Copy the log, and let the copy be the newest backup if it is sound; the oldest one goes.

    Raises
    ------
    BadInput
        If the log is damaged; the backups before stay.
    OSError, sqlite3.Error
        If nothing can be written.
    """
    paths = _paths(place)
    if any(path.exists() and not _is_ours(path) for path in paths):
        # Nothing to write over. A damaged backup makes room like any other.
        return
    with scratch(place.parent, _FAMILY) as folder:
        fresh = folder / place.name
        with closing(sqlite3.connect(fresh)) as copy:
            connection.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        if _entries_in(fresh) is None:
            raise BadInput("is damaged, and was not copied", place)
        with locked(place.parent):
            for older, newer in pairwise(reversed(paths)):
                with suppress(FileNotFoundError):
                    os.replace(newer, older)
            os.replace(fresh, paths[0])


def back_up_if_due(connection: sqlite3.Connection, place: Path) -> None:
    """Back up a log whose newest backup, or first entry, is older than `EVERY`; where that can be.

    What cannot be backed up, for want of space or being damaged, is no reason to add nothing.
    """
    remove_left_behind(place.parent, _FAMILY)
    try:
        since = _paths(place)[0].stat().st_mtime
    except OSError:
        first = connection.execute("SELECT added FROM entries ORDER BY id LIMIT 1").fetchone()
        try:
            since = time.time() if first is None else datetime.fromisoformat(first[0]).timestamp()
        except (TypeError, ValueError):
            return
    if time.time() - since > EVERY * 86_400:
        with suppress(BadInput, OSError, sqlite3.Error):
            back_up(connection, place)


def backups_of(place: Path) -> Iterator[Backup]:
    """Return the backups beside a log, the newest first, each looked through."""
    for path in _paths(place):
        with suppress(OSError):
            made = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            yield Backup(path, made, _entries_in(path))


def _paths(place: Path) -> list[Path]:
    return [place.with_name(f"{place.name}.backup-{number}") for number in range(1, KEPT + 1)]


def _is_ours(path: Path) -> bool:
    """Whether a file begins as a print log does, sound or damaged (https://sqlite.org/fileformat.html,
    1.3)."""
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except OSError:
        return False
    mark = APPLICATION_ID.to_bytes(4, "big")
    return head.startswith(b"SQLite format 3\0") and head[68:72] == mark


def _entries_in(path: Path) -> int | None:
    """Count the entries of a backup; None where it is no sound print log."""
    try:
        uri = f"{path.resolve().as_uri()}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True)) as copy:
            if not is_print_log(copy) or copy.execute("PRAGMA quick_check").fetchone()[0] != "ok":
                return None
            return int(copy.execute("SELECT count(*) FROM entries").fetchone()[0])
    except (sqlite3.Error, UnicodeDecodeError, OSError):
        return None


PATIENCE = 30.0
"""Seconds to wait for another process that is writing."""


LARGEST_VALUE = 200_000_000
"""Bytes of one text or packed file: no more is read from a log, nor written to it."""


@dataclass(frozen=True)
class PrintLog:
    """An open print log.

    Attributes
    ----------
    connection
        To the database; rows are `sqlite3.Row`.
    """

    connection: sqlite3.Connection
    path: Path

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Write all that follows, or nothing of it; within another such block, as part of that."""
        if self.connection.in_transaction:
            yield
            return
        self.connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            self.connection.execute("COMMIT")
        except BaseException:
            roll_back(self.connection)
            raise

    @contextmanager
    def at_one_time(self) -> Iterator[None]:
        """Read all that follows as it is now, whatever others write meanwhile."""
        self.connection.execute("BEGIN")
        try:
            yield
        finally:
            roll_back(self.connection)


@contextmanager
def open_log(
    path: Path | str | None = None, *, write: bool = False, damaged: bool = False
) -> Iterator[PrintLog]:
    """Open a print log.

    Several processes may have it open; who writes waits for the other. What was written stays
    written, whatever happens to the process afterwards.

    Parameters
    ----------
    path
        The file; None is the one in the user's data folder.
    write
        Whether anything is to be added: then the log is made if there is none, and backed up now
        and then.
    damaged
        Whether to read what is there of a log whose tables are not what they should be.

    Raises
    ------
    BadInput
        If there is no log, it is damaged, something else, of a newer program, in use for too
        long, or cannot be written. Errors of the database within the block end in one as well.
    """
    place = default_log() if path is None else Path(path)
    _refuse_what_is_no_file(place, write)
    connection = None
    begun = write and not place.exists()
    try:
        connection = _to_write(place) if write else _to_read(place, damaged)
        # KiB: the pages of a log of many prints are read once.
        connection.execute("PRAGMA cache_size = -32768")
        yield PrintLog(connection, place)
    except BaseException as error:
        if connection is not None:
            connection.close()
        if begun:
            # A signal may have come just before a block let go of what it held.
            clear_frames(error.__traceback__)
            _take_back(place)
        # SQLite asks for what memory a damaged page says that it takes.
        beyond = isinstance(error, MemoryError) and connection is None
        if beyond or isinstance(error, sqlite3.Error | UnicodeDecodeError):
            refusal = _refusal(error, place, damaged)
            if refusal is not None:
                raise refusal from error
        raise
    connection.close()


def _take_back(place: Path) -> None:
    """Remove a log that this process began and came to add nothing to, unless others use it."""
    with ExitStack() as held, suppress(BadInput, OSError, sqlite3.Error):
        held.enter_context(locked(place.parent))
        connection = held.enter_context(closing(_connect(place, "mode=rw")))
        # Refused where others have read anything of it.
        connection.execute("PRAGMA busy_timeout = 0")
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        connection.execute("BEGIN EXCLUSIVE")
        made = not is_empty(connection)
        if not (made and connection.execute("SELECT 1 FROM entries LIMIT 1").fetchone()):
            for ending in ("", "-wal", "-shm"):
                Path(f"{resolved(place)}{ending}").unlink(missing_ok=True)


def _refuse_what_is_no_file(place: Path, write: bool) -> None:
    # Links that lead in a circle are refused.
    if resolved(place).is_dir():
        raise BadInput("is a folder; give the print log's file", place)
    if not write and not place.exists():
        raise BadInput(
            "there is no print log here yet; 'greyscale log add READING' starts one", place
        )
    if write:
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise BadInput(f"cannot be written ({error.strerror})", place) from error


def _to_write(place: Path) -> sqlite3.Connection:
    with ExitStack() as opened:
        # Whoever takes back a log that it began waits until this one is known to use it.
        with locked(place.parent):
            connection = opened.enter_context(closing(_connect(place, "mode=rwc")))
            new = is_new(connection, place)
            _keep_journal_ahead(connection)
        # Nothing that was said to be added is lost, even to a power cut.
        connection.execute("PRAGMA synchronous = FULL")
        _bring_up_to_date(connection, place)
        if not new:
            back_up_if_due(connection, place)
        opened.pop_all()
        return connection


def _bring_up_to_date(connection: sqlite3.Connection, place: Path) -> None:
    """Change the tables of an older log to those of today; a backup is made before."""
    if 0 < schema_version(connection) < len(migrations()):
        try:
            back_up(connection, place)
        except OSError as error:
            # Where nothing may be written, the tables stay as they are as well.
            if error.errno not in (errno.EACCES, errno.EPERM, errno.EROFS):
                raise
    migrate(connection, place)


def _to_read(place: Path, damaged: bool) -> sqlite3.Connection:
    """Open a log to read, bringing it up to date where that can be, also from a folder or medium
    that cannot be written."""
    for mode in ("mode=rw", "mode=ro&immutable=1"):
        connection = _connect(place, mode)
        if damaged:
            # Else SQLite opens no file that was cut short (its btree.c, lockBtree).
            connection.execute("PRAGMA writable_schema = ON")
        try:
            if is_new(connection, place, damaged=damaged):
                raise BadInput(
                    "holds nothing yet; 'greyscale log add READING' starts a print log", place
                )
            if mode == "mode=rw":
                _bring_up_to_date(connection, place)
            else:
                refuse_newer(connection, place, len(migrations()))
                if schema_version(connection) < len(migrations()):
                    raise BadInput(
                        "this print log was written by an older greyscale and cannot be brought "
                        "up to date here, where nothing can be written; copy it elsewhere",
                        place,
                    )
            return connection
        except sqlite3.OperationalError as error:
            connection.close()
            # What another process has not yet put into the file itself would be missed.
            refused = error.sqlite_errorname.startswith(("SQLITE_CANTOPEN", "SQLITE_READONLY"))
            if mode != "mode=rw" or not refused or _has_unmerged(place):
                raise
        except BaseException:
            connection.close()
            raise
    raise AssertionError("unreachable")


def _connect(place: Path, mode: str) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{place.resolve().as_uri()}?{mode}", uri=True, timeout=PATIENCE, isolation_level=None
    )
    connection.row_factory = sqlite3.Row
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LARGEST_VALUE)
    # A log may come from elsewhere; what a terminal would obey is nobody's words.
    connection.text_factory = lambda text: plain_text(text.decode("utf-8"))
    connection.create_function("name_key", 1, name_key, deterministic=True)
    connection.execute("PRAGMA foreign_keys = ON")
    # Nor may its views and triggers call what they please.
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def _keep_journal_ahead(connection: sqlite3.Connection) -> None:
    """Switch to write-ahead logging; SQLite does not wait by itself where several try at once."""
    give_up = time.monotonic() + PATIENCE
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if not error.sqlite_errorname.startswith("SQLITE_BUSY") or time.monotonic() > give_up:
                raise
            time.sleep(0.02)


def _has_unmerged(place: Path) -> bool:
    try:
        return place.with_name(f"{place.name}-wal").stat().st_size > 0
    except OSError:
        return False


_MISTAKES = (
    sqlite3.IntegrityError,
    sqlite3.ProgrammingError,
    sqlite3.InterfaceError,
    sqlite3.NotSupportedError,
)


def _refusal(error: BaseException, place: Path, damaged: bool) -> BadInput | None:
    """Say in a person's words what the database reports; None for a mistake of the program."""
    # The plain codes of https://www.sqlite.org/rescode.html, without their extensions.
    name = "_".join((getattr(error, "sqlite_errorname", None) or "").split("_")[:2])
    if isinstance(error, _MISTAKES):
        return None
    if name in ("SQLITE_CANTOPEN", "SQLITE_READONLY", "SQLITE_PERM", "SQLITE_AUTH"):
        return BadInput(
            f"cannot be written ({error}); give another place by --db, or free this one", place
        )
    if name == "SQLITE_NOTADB":
        return BadInput("is not a print log, nor any other database; give another file", place)
    if name in ("SQLITE_BUSY", "SQLITE_LOCKED"):
        return BadInput("another program is writing to it; try again when it has finished", place)
    if name in ("SQLITE_FULL", "SQLITE_IOERR"):
        return BadInput(f"cannot be written or read ({error}); nothing was added", place)
    # Corrupt pages; names or text that cannot be those of a print log's tables.
    why = str(error) or "it asks for more memory than there is"
    backup = next((one for one in backups_of(place) if one.entries is not None), None)
    last = "import your last export into a new log"
    if backup is not None:
        last = f"take its backup of {backup.made:%Y-%m-%d}, {backup.path}"
    advice = f"'greyscale log rescue -o NEW.sqlite3' saves all that is sound; else {last}"
    if damaged:
        advice = f"nothing of it can be saved; {last}"
    return BadInput(f"is damaged ({why}); {advice}, and keep this file", place)


# The print log's tables, and how a log of an earlier program is brought up to date.

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
    return {(kind, name): re.sub(r'["\s]+', "", str(sql or "")).lower() for kind, name, sql in rows}


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
