"""The print log as a file: how it opens, what it refuses, how it is brought up to date."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
from pathlib import Path

import pytest

from greyscale.base.errors import BadInput
from greyscale.base.outputs import default_log
from greyscale.records.add_reading import add_readings
from greyscale.records.adding import Stated, add_note
from greyscale.records.entries import reading_of
from greyscale.records.exchange import export_json
from greyscale.records.find import Wanted, count, find
from greyscale.records.print_log import (
    APPLICATION_ID,
    migrate,
    migrations,
    open_log,
    schema_version,
)


def note_in(path):
    with open_log(path, write=True) as log:
        return add_note(log, "a note").id


def names_in(path):
    with open_log(path) as log:
        return count(log), [entry.name for entry in find(log)]


@pytest.fixture
def kept(db) -> Path:
    """A log with one note in it."""
    with open_log(db, write=True) as log:
        add_note(log, "a note")
    return db


def test_it_lies_in_the_users_data_folder(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    place = default_log()
    assert place.name == "print-log.sqlite3"
    assert place.parent.name == "greyscale"


def test_a_new_log_has_what_keeps_it_safe(db):
    with open_log(db, write=True) as log:
        pragmas = {
            name: log.connection.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "foreign_keys", "synchronous", "busy_timeout")
        }
        assert pragmas == {
            "journal_mode": "wal",
            "foreign_keys": 1,
            "synchronous": 2,  # FULL
            "busy_timeout": 30_000,
        }
        assert schema_version(log.connection) == len(migrations())
        with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
            log.connection.execute("INSERT INTO notes (entry, text) VALUES (99, 'of nothing')")


def test_only_adding_makes_a_log(db):
    with pytest.raises(BadInput, match="no print log here yet; 'greyscale log add READING'"):
        open_log(db).__enter__()
    assert not db.exists()


def test_an_empty_file_becomes_a_log_by_adding_only(tmp_path):
    path = tmp_path / "empty"
    path.touch()
    with pytest.raises(BadInput, match="holds nothing yet"):
        open_log(path).__enter__()
    with open_log(path, write=True) as log:
        add_note(log, "a note")
    with open_log(path) as log:
        assert count(log) == 1


@pytest.mark.parametrize("write", [False, True])
def test_a_database_of_something_else_is_refused_and_left_alone(tmp_path, write):
    path = tmp_path / "music.sqlite3"
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE songs (name)")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(BadInput, match="database of something else"):
        open_log(path, write=write).__enter__()
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["music.sqlite3"]


@pytest.mark.parametrize("write", [False, True])
def test_what_is_no_database_is_refused_and_left_alone(tmp_path, write):
    path = tmp_path / "photo.tif"
    path.write_bytes(bytes(range(256)) * 40)
    with pytest.raises(BadInput, match="nor any other database"):
        open_log(path, write=write).__enter__()
    assert path.read_bytes() == bytes(range(256)) * 40
    with pytest.raises(BadInput, match="is a folder"):
        open_log(tmp_path, write=write).__enter__()


def test_a_log_cut_short_is_called_damaged(db, make_reading):
    with open_log(db, write=True) as log:
        for number in range(5):
            add_readings(log, make_reading(number))
    db.write_bytes(db.read_bytes()[: db.stat().st_size // 2])
    with pytest.raises(BadInput, match=r"is damaged.*rescue.*import your last export"):
        names_in(db)


def test_whatever_is_damaged_ends_in_a_message(db, make_reading, tmp_path):
    """A hundred logs with flipped bytes: read whole, each gives what was kept, or says so."""
    with open_log(db, write=True) as log:
        for number in range(3):
            add_readings(log, make_reading(number))
        add_note(log, "a note", about=1)
    whole = db.read_bytes()
    chance = random.Random(11)
    refused = 0
    for _ in range(100):
        damaged = bytearray(whole)
        for _ in range(chance.choice((1, 4, 40))):
            damaged[chance.randrange(len(damaged))] ^= 1 << chance.randrange(8)
        db.write_bytes(damaged)
        try:
            with open_log(db) as log:
                export_json(log, tmp_path / "export.json")
        except BadInput:
            refused += 1
    assert refused > 20


def test_a_kept_file_that_is_not_what_it_was_is_not_given_out(db, make_reading):
    with open_log(db, write=True) as log:
        add_readings(log, make_reading())
        log.connection.execute("UPDATE files SET packed = zeroblob(20)")
    with open_log(db) as log, pytest.raises(BadInput, match="is no longer what it was"):
        reading_of(log, find(log)[0])


def test_a_newer_log_is_refused_and_left_alone(kept):
    with sqlite3.connect(kept) as connection:
        connection.execute(f"PRAGMA user_version = {len(migrations()) + 1}")
    connection.close()
    for write in (False, True):
        with pytest.raises(BadInput, match=r"newer greyscale .*update greyscale"):
            open_log(kept, write=write).__enter__()
    with sqlite3.connect(kept) as connection:
        assert connection.execute("SELECT count(*) FROM notes").fetchone() == (1,)
    connection.close()


class TestMigrations:
    """Scripts made up for the test: what any later version will go through."""

    FIRST = "CREATE TABLE a (x);\nINSERT INTO a VALUES ('it''s; kept');"
    SECOND = "CREATE TABLE b (y);\n-- and\nUPDATE a SET x = x || '!';"
    BROKEN = "CREATE TABLE c (z);\nINSERT INTO nowhere VALUES (1);"

    @pytest.fixture
    def connection(self, tmp_path):
        connection = sqlite3.connect(tmp_path / "db", isolation_level=None)
        yield connection
        connection.close()

    def test_go_on_from_the_version_there_is(self, connection):
        migrate(connection, "db", [self.FIRST])
        assert schema_version(connection) == 1
        migrate(connection, "db", [self.FIRST, self.SECOND])
        migrate(connection, "db", [self.FIRST, self.SECOND])
        assert connection.execute("SELECT x FROM a").fetchall() == [("it's; kept!",)]
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)

    def test_happen_whole_or_not_at_all(self, connection):
        migrate(connection, "db", [self.FIRST])
        with pytest.raises(sqlite3.OperationalError):
            migrate(connection, "db", [self.FIRST, self.SECOND, self.BROKEN])
        assert schema_version(connection) == 1
        tables = connection.execute("SELECT name FROM sqlite_master").fetchall()
        assert tables == [("a",)]
        assert connection.execute("SELECT x FROM a").fetchall() == [("it's; kept",)]

    def test_are_refused_backwards(self, connection):
        migrate(connection, "db", [self.FIRST, self.SECOND])
        with pytest.raises(BadInput, match="log version 2; this one knows 1"):
            migrate(connection, "db", [self.FIRST])


@pytest.mark.skipif(os.name != "posix", reason="permissions of folders are tested on POSIX only")
class TestWithoutPermission:
    def test_a_folder_that_cannot_be_written(self, open_folder, as_other_user):
        for path in (open_folder / "log.sqlite3", open_folder / "new" / "log.sqlite3"):
            kind, text = as_other_user(lambda path=path: note_in(path))
            assert kind == "BadInput"
            assert text.startswith(f"{path}: cannot be written")
        assert list(open_folder.iterdir()) == []

    def test_a_log_there_is_read_but_not_written(self, open_folder, as_other_user, kept):
        path = open_folder / "log.sqlite3"
        shutil.copy(kept, path)
        path.chmod(0o444)
        open_folder.chmod(0o555)
        assert as_other_user(lambda: names_in(path)) == ("tuple", "(1, ['a note'])")
        kind, text = as_other_user(lambda: note_in(path))
        assert kind == "BadInput"
        assert text.startswith(f"{path}: cannot be written")
        open_folder.chmod(0o755)
        assert [one.name for one in open_folder.iterdir()] == ["log.sqlite3"]

    def test_an_older_log_there_is_not_read_as_if_it_were_of_today(
        self, open_folder, as_other_user, kept, monkeypatch
    ):
        later = (*migrations(), "CREATE TABLE another (x);")
        monkeypatch.setattr("greyscale.records.print_log.migrations", lambda: later)
        path = open_folder / "log.sqlite3"
        shutil.copy(kept, path)
        path.chmod(0o444)
        open_folder.chmod(0o555)
        kind, text = as_other_user(lambda: names_in(path))
        assert kind == "BadInput"
        assert "older greyscale" in text
        open_folder.chmod(0o755)

    def test_a_file_that_cannot_be_read(self, open_folder, as_other_user, kept):
        path = open_folder / "log.sqlite3"
        shutil.copy(kept, path)
        path.chmod(0o000)
        assert as_other_user(lambda: names_in(path))[0] == "BadInput"
        path.chmod(0o644)


def test_a_log_from_elsewhere_brings_nothing_that_a_terminal_obeys(db, make_reading):
    """Words in a database that another program has put there, past all that cleans files."""
    obeyed = "\x1b[2J\x9b31m\u202e"
    with open_log(db, write=True) as log:
        add_readings(log, make_reading(), Stated(inks="carbon"))
        add_note(log, "a note")
        log.connection.execute("UPDATE notes SET text = ?", (f"a {obeyed}note\n\tmore",))
        log.connection.execute("UPDATE entries SET name = 'n' || ?", (obeyed,))
        log.connection.execute("UPDATE inks SET name = 'i' || ?", (obeyed,))
    with open_log(db) as log:
        reading, note = find(log)
        assert (reading.name, reading.inks) == ("n[2J31m", "i[2J31m")
        assert note.details.text == "a [2J31mnote\n\tmore"


def test_names_are_the_same_with_and_without_what_nobody_sees(db, make_reading):
    with open_log(db, write=True) as log:
        add_readings(log, make_reading(), Stated(inks="car\x1bbon"))
        (entry,) = find(log)
        assert entry.inks == "carbon"
        assert len(find(log, Wanted(inks="c\u202earbon"))) == 1
