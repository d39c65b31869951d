"""Several processes at one log, and processes that are killed: nothing that was added is lost."""

from __future__ import annotations

import hashlib
import os
import signal
import sqlite3
import time
import zlib
from contextlib import ExitStack, suppress
from functools import partial
from itertools import count as count_from
from itertools import takewhile

import pytest
from support.families import family
from support.logged import correction_folder, reading_file

from greyscale.base.errors import BadInput
from greyscale.records import print_log
from greyscale.records.add_reading import add_readings
from greyscale.records.adding import add_correction, add_note
from greyscale.records.find import count, find
from greyscale.records.print_log import open_log

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="processes are forked, which this system does not do"
)


def forked(function) -> int:
    """Run a function in a process of its own, which ends with it; give its id."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            function()
            code = 0
        finally:
            os._exit(code)
    return child


def ended(child) -> int:
    """Wait for a process; give its exit code, or minus the signal that ended it."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def assert_whole(db) -> None:
    """The database is sound, every entry is complete, every file is what its hash says."""
    connection = sqlite3.connect(db)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    for digest, packed in connection.execute("SELECT sha256, packed FROM files"):
        assert hashlib.sha256(zlib.decompress(packed)).hexdigest() == digest
    used = connection.execute(
        "SELECT count(*) FROM files WHERE sha256 NOT IN (SELECT sha256 FROM entry_files)"
    ).fetchone()
    assert used == (0,)
    connection.close()
    with open_log(db) as log:
        for entry in find(log):
            assert entry.details is not None
            assert entry.kind == "note" or entry.files


def test_processes_that_start_a_log_and_add_to_it_at_once_lose_nothing(db, tmp_path):
    processes, each = 4, 8
    for number in range(processes * each):
        reading_file(tmp_path, number)
    gate = time.time() + 0.2

    def add(first):
        time.sleep(max(0.0, gate - time.time()))
        for number in range(first, first + each):
            with open_log(db, write=True) as log:
                (added,) = add_readings(log, tmp_path / f"reading-{number}.txt")
                assert added.new

    children = [forked(lambda i=i: add(i * each)) for i in range(processes)]
    assert [ended(child) for child in children] == [0] * processes
    assert_whole(db)
    with open_log(db) as log:
        names = sorted(entry.name for entry in find(log))
    assert names == sorted(f"reading {number}" for number in range(processes * each))


def test_a_log_that_a_process_began_in_vain_goes_unless_others_use_it(db):
    with ExitStack() as others:
        with suppress(BadInput), open_log(db, write=True):
            log = others.enter_context(open_log(db, write=True))
            raise BadInput("refused")
        add_note(log, "kept")
    with open_log(db) as log:
        assert count(log) == 1


def test_processes_that_begin_a_log_in_vain_lose_nothing_of_the_others(db):
    def work(number: int) -> None:
        for turn in range(12):
            with suppress(BadInput), open_log(db, write=True) as log:
                if (turn + number) % 3:
                    raise BadInput("refused")
                add_note(log, f"note {number}-{turn}")

    for _ in range(2):
        for path in db.parent.glob(f"{db.name}*"):
            path.unlink()
        children = [forked(partial(work, number)) for number in range(4)]
        assert [ended(child) for child in children] == [0] * 4
        with open_log(db) as log:
            assert count(log) == 16


def test_a_log_that_is_being_made_is_not_taken_for_something_else(db, monkeypatch):
    """Between two looks at a file another process may have made the log."""
    is_empty = print_log.is_empty

    def slow(connection):
        time.sleep(0.05)
        return is_empty(connection)

    monkeypatch.setattr(print_log, "is_empty", slow)

    def add(delay):
        time.sleep(delay)
        with open_log(db, write=True) as log:
            add_note(log, "a note")

    children = [forked(partial(add, 0.01 * i)) for i in range(12)]
    assert [ended(child) for child in children] == [0] * 12
    with open_log(db) as log:
        assert count(log) == 12


def test_the_same_reading_added_by_all_at_once_is_one_entry(db, make_reading):
    path = make_reading()
    gate = time.time() + 0.2

    def add():
        time.sleep(max(0.0, gate - time.time()))
        with open_log(db, write=True) as log:
            add_readings(log, path)

    children = [forked(add) for _ in range(6)]
    assert [ended(child) for child in children] == [0] * 6
    with open_log(db) as log:
        assert count(log) == 1
    assert_whole(db)


def test_a_reader_is_not_disturbed_by_who_writes(db, make_reading):
    with open_log(db, write=True) as log:
        add_note(log, "first")
    with open_log(db) as reader, reader.at_one_time():
        assert count(reader) == 1
        with open_log(db, write=True) as writer:
            add_readings(writer, make_reading())
            assert count(writer) == 2
        assert count(reader) == 1


def killed_at(statement: int, db, add) -> int:
    """Run `add(log)` in a process that kills itself at so many statements into it."""

    def run():
        with open_log(db, write=True) as log:
            seen = 0

            def look(_text):
                nonlocal seen
                seen += 1
                if seen == statement:
                    os.kill(os.getpid(), signal.SIGKILL)

            log.connection.set_trace_callback(look)
            add(log)

    return ended(forked(run))


@pytest.mark.parametrize("step", family([1, 3], [3]))
def test_a_kill_at_any_statement_of_an_add_loses_that_add_and_nothing_else(db, tmp_path, step):
    """A correction, a reading printed through it and a note, in one add."""
    folder = correction_folder(tmp_path / "harbour-light")
    first, second = reading_file(tmp_path, 1), reading_file(tmp_path, 2)
    with open_log(db, write=True) as log:
        add_readings(log, first)

    def add(log):
        with log.writing():
            made = add_correction(log, folder)
            add_readings(log, second, through=made.id)
            add_note(log, "after the kill", about=made.id)

    statement = 1
    while killed_at(statement, db, add) == -signal.SIGKILL:
        assert_whole(db)
        with open_log(db) as log:
            assert [entry.name for entry in find(log)] == ["reading 1"], statement
        statement += step
    assert statement > 20
    # The last process was not killed: its add is there whole.
    assert_whole(db)
    with open_log(db) as log:
        assert {entry.kind for entry in find(log)} == {"reading", "correction", "note"}
        assert count(log) == 4


@pytest.mark.parametrize("seed", range(4))
def test_a_kill_from_outside_loses_nothing_that_was_reported(db, tmp_path, seed):
    """A process adds one note after the other and says so; it is killed at some time."""
    receiver, sender = os.pipe()

    def add():
        os.close(receiver)
        for number in range(100_000):
            with open_log(db, write=True) as log:
                add_note(log, f"note {number}" + " and more" * 2000)
            os.write(sender, b".")

    child = forked(add)
    os.close(sender)
    reported = len(os.read(receiver, 1))
    time.sleep(0.02 + 0.017 * seed)
    os.kill(child, signal.SIGKILL)
    assert ended(child) == -signal.SIGKILL
    with os.fdopen(receiver, "rb") as rest:
        reported += len(rest.read())
    assert_whole(db)
    with open_log(db, write=True) as log:
        names = [entry.name.split(" and")[0] for entry in find(log)]
        assert names == [f"note {number}" for number in range(len(names))]
        assert len(names) in (reported, reported + 1)
        add_note(log, "and on it goes")


@pytest.mark.parametrize("step", family([1, 2], [2]))
def test_a_kill_while_the_log_is_being_made_leaves_nothing_in_the_way(db, monkeypatch, step):
    """The making of the tables is all or nothing, too."""
    connect = sqlite3.connect

    def open_and_die(statement):
        seen = 0

        def look(_text):
            nonlocal seen
            seen += 1
            if seen == statement:
                os.kill(os.getpid(), signal.SIGKILL)

        def watched(*arguments, **options):
            connection = connect(*arguments, **options)
            connection.set_trace_callback(look)
            return connection

        monkeypatch.setattr("sqlite3.connect", watched)
        with open_log(db, write=True):
            pass

    deaths = (
        ended(forked(partial(open_and_die, statement))) == -signal.SIGKILL
        for statement in count_from(1, step)
    )
    assert sum(takewhile(bool, deaths)) > 7
    with open_log(db, write=True) as log:
        add_note(log, "a note")
    assert_whole(db)
