"""A damaged log: each damaged entry is named, all others come out of it."""

from __future__ import annotations

import os
import re
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest
from support.invoked import invoke, refused
from support.logged import reading_file

from greyscale.base.errors import BadInput
from greyscale.records.add_reading import add_readings
from greyscale.records.adding import Stated, add_correction, add_note, add_print, edition_of
from greyscale.records.exchange import look_through, rescue
from greyscale.records.find import Wanted, find
from greyscale.records.print_log import (
    back_up,
    backups_of,
    migrate,
    migrations,
    open_log,
    schema_version,
)


@pytest.fixture
def full(db: Path, tmp_path: Path, correction: Path) -> Path:
    """Readings 1 to 3, a correction (4), notes 5 (about reading 2) and 6."""
    with open_log(db, write=True) as log:
        for number in (1, 2, 3):
            add_readings(log, reading_file(tmp_path, number))
        add_correction(log, correction)
        add_note(log, "about a reading", about=2)
        add_note(log, "alone")
    return db


def change(db: Path, *statements: str) -> None:
    with closing(sqlite3.connect(db)) as connection:
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute("PRAGMA ignore_check_constraints = ON")
        for statement in statements:
            connection.execute(statement)
        connection.commit()


DAMAGES = {
    "a file's bytes": "UPDATE files SET packed = x'00' WHERE sha256 = "
    "(SELECT sha256 FROM entry_files WHERE entry = 2)",
    "a file that is gone": "DELETE FROM files WHERE sha256 = "
    "(SELECT sha256 FROM entry_files WHERE entry = 2)",
    "no details": "DELETE FROM readings WHERE entry = 2",
    "a moment": "UPDATE entries SET moment = 'yesterday' WHERE id = 2",
    "a kind": "UPDATE entries SET kind = 'notion' WHERE id = 2",
    "a number of patches": "UPDATE readings SET patches = 'many' WHERE entry = 2",
    "bytes for a name": "UPDATE entries SET name = x'ff00' WHERE id = 2",
    "not UTF-8 text": "UPDATE entries SET name = CAST(x'ff' AS TEXT) WHERE id = 2",
    "a uid": "UPDATE entries SET uid = 'x' WHERE id = 2",
    "a size beyond memory": "UPDATE files SET size = 1 << 62, packed = zeroblob(100) WHERE sha256 "
    "= (SELECT sha256 FROM entry_files WHERE entry = 2)",
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_one_damaged_entry_is_named_and_all_others_are_saved(
    damage: str, full: Path, tmp_path: Path
) -> None:
    change(full, DAMAGES[damage])
    done = invoke("log", "check", "--db", full, code=1)
    assert "5 entries are sound" in done.output
    assert "entry 2: " in done.output
    out, new = tmp_path / "out.json", tmp_path / "rescued.sqlite3"
    done = invoke("log", "export", "--db", full, "-o", out, code=1)
    assert out.is_file()
    assert "entry 2: " in done.output
    with open_log(full) as log:
        before = [entry.uid for entry in look_through(log)[0]]
        count, lost = rescue(log, new)
    assert (count, [one.entry for one in lost]) == (5, [2])
    with open_log(new) as log:
        assert sorted(entry.uid for entry in find(log)) == sorted(before)
        assert look_through(log)[1] == ()
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


@pytest.mark.parametrize("result", ["{", "[]", '{"a":' * 100_000, "3"])
def test_a_verification_that_is_no_json_is_lost_alone(result: str, full: Path) -> None:
    change(
        full,
        "INSERT INTO entries SELECT 9, 'f' || substr(uid, 2), 'verification', name, moment, "
        "moment_from, added, version, printer, paper, inks, settings FROM entries WHERE id = 1",
        "INSERT INTO verifications (entry, reading, correction, tolerance, within_tolerance, "
        "mean_delta_Ch, max_delta_Ch, result) "
        f"VALUES (9, 1, 4, 'exhibition', 1, 0.1, 0.2, '{result}')",
    )
    with open_log(full) as log:
        sound, damages = look_through(log)
    assert len(sound) == 6
    assert [str(one)[:9] for one in damages] == ["entry 9: "]


def test_what_a_lost_entry_was_judged_by_is_named(full: Path) -> None:
    change(
        full,
        "INSERT INTO entries SELECT 9, 'f' || substr(uid, 2), 'verification', name, moment, "
        "moment_from, added, version, printer, paper, inks, settings FROM entries WHERE id = 1",
        "INSERT INTO verifications (entry, reading, correction, tolerance, within_tolerance, "
        "mean_delta_Ch, max_delta_Ch, result) VALUES (9, 2, 4, 'exhibition', 1, 0.1, 0.2, '{}')",
        "DELETE FROM readings WHERE entry = 2",
    )
    with open_log(full) as log:
        assert [one.entry for one in look_through(log)[1]] == [2, 9]


def test_a_page_of_the_database_is_damaged(full: Path, tmp_path: Path) -> None:
    """Each page but the first (without it, there is no database): what is sound comes out."""
    whole = full.read_bytes()
    size = int.from_bytes(whole[16:18], "big")
    saved = []
    for page in range(1, len(whole) // size):
        full.write_bytes(whole[: page * size] + b"\xa5" * size + whole[(page + 1) * size :])
        try:
            with open_log(full) as log:
                saved.append(rescue(log, tmp_path / f"{page}.sqlite3")[0])
        except BadInput:
            saved.append(-1)
    assert sum(count >= 5 for count in saved) > len(saved) / 2


def test_a_log_that_was_cut_short_gives_what_is_left_or_names_its_backup(
    full: Path, tmp_path: Path
) -> None:
    whole = full.read_bytes()
    size = int.from_bytes(whole[16:18], "big")

    with open_log(full) as log:
        back_up(log.connection, full)
    full.write_bytes(whole[: -2 * size])
    why = refused("log", "check", "--db", full)
    assert re.search(r"is damaged.*log rescue.*; else take its backup of .*", why)
    told = invoke("log", "rescue", "--db", full, "-o", tmp_path / "cut.sqlite3", code=1)
    assert int(told.stdout.split()[0]) >= 2
    assert full.read_bytes() == whole[: full.stat().st_size]
    # Without its first page there is no database.
    full.write_bytes(whole[:100] + b"\xa5" * (size - 100) + whole[size:])
    said = refused("log", "rescue", "--db", full, "-o", tmp_path / "none.sqlite3")
    assert re.search(
        rf"nothing of it can be saved; take its backup of .*{full.name}.backup-1", said
    )
    assert "rescue" not in said
    assert not (tmp_path / "none.sqlite3").exists()


def test_a_rescue_replaces_nothing(full: Path, tmp_path: Path) -> None:
    with open_log(full) as log, pytest.raises(BadInput, match="is there already"):
        rescue(log, full)


ENDLESS = "WITH RECURSIVE n (id) AS (SELECT 1 UNION ALL SELECT id + 1 FROM n)"
ODD = {
    "a view that never ends": (
        "DROP TABLE notes",
        f"CREATE VIEW notes AS {ENDLESS} SELECT id AS entry, '' AS text, 1 AS about FROM n "
        "WHERE id < 0",
    ),
    "a table": ("CREATE TABLE more (x)",),
    "an index": ("CREATE INDEX more ON notes (text)",),
    "a trigger": ("CREATE TRIGGER t AFTER INSERT ON notes BEGIN DELETE FROM entries; END",),
}


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("write", [True, False])
def test_a_log_with_views_or_triggers_is_refused(odd: str, write: bool, full: Path) -> None:
    change(full, *ODD[odd])
    with pytest.raises(BadInput, match="that no print log has"), open_log(full, write=write):
        pytest.fail("nothing of it is to be read")


ALTERED = {
    "an index": ("DROP INDEX entries_by_moment",),
    "a column": ("ALTER TABLE courses ADD COLUMN more TEXT",),
    "a check": ("ALTER TABLE courses RENAME TO old", "CREATE TABLE courses AS SELECT * FROM old",
                "DROP TABLE old"),
    "a table": ("DROP TABLE figures",),
}  # fmt: skip


@pytest.mark.parametrize("altered", ALTERED)
def test_a_log_whose_tables_are_others_is_named_damaged_and_rescued(
    altered: str, full: Path, tmp_path: Path
) -> None:
    change(full, *ALTERED[altered])
    assert "is damaged: its" in refused("log", "list", "--db", full)
    saved = tmp_path / "saved.sqlite3"
    invoke("log", "rescue", "--db", full, "-o", saved, code=0)
    with open_log(saved) as log:
        assert len(find(log)) == 6


BEGUN = time.time()


def _weeks_later(place: Path, monkeypatch: pytest.MonkeyPatch, weeks: float) -> None:
    """Add a note when so much time has passed since the log was begun."""
    now = BEGUN + weeks * 7 * 86_400
    monkeypatch.setattr("greyscale.records.print_log.time.time", lambda: now)
    newest = Path(f"{place}.backup-1")
    before = newest.stat().st_ino if newest.exists() else None
    with open_log(place, write=True) as log:
        add_note(log, f"week {weeks}")
    if newest.exists() and newest.stat().st_ino != before:
        os.utime(newest, (now, now))


def test_a_log_is_backed_up_once_a_week_and_three_backups_are_kept(
    full: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    entries = []
    for weeks in (0.5, 1.1, 1.2, 2.2, 3.3, 4.4):
        _weeks_later(full, monkeypatch, weeks)
        entries.append([backup.entries for backup in backups_of(full)])
    assert entries == [[], [7], [7], [9, 7], [10, 9, 7], [11, 10, 9]]
    assert not list(full.parent.glob(".*"))
    said = invoke("log", "check", "--db", full).output
    assert said.count("sound, ") == 3
    with open_log(f"{full}.backup-1") as log:
        assert len(find(log)) == 11


def test_what_is_damaged_replaces_no_sound_backup(
    full: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _weeks_later(full, monkeypatch, 2)
    before = Path(f"{full}.backup-1").read_bytes()
    Path(f"{full}.backup-2").write_bytes(b"somebody else's")
    _weeks_later(full, monkeypatch, 4)
    assert Path(f"{full}.backup-1").read_bytes() == before
    assert Path(f"{full}.backup-2").read_bytes() == b"somebody else's"


def test_an_older_log_is_backed_up_before_its_tables_change(tmp_path: Path) -> None:
    place = tmp_path / "old.sqlite3"
    with closing(sqlite3.connect(place, isolation_level=None)) as connection:
        migrate(connection, place, migrations()[:2])
    with open_log(place, write=True):
        pass
    with closing(sqlite3.connect(f"{place}.backup-1")) as connection:
        assert schema_version(connection) == 2


def test_names_that_an_earlier_program_held_apart_become_one(tmp_path: Path) -> None:
    """Unicode 3.11, D70: a letter and its accent are the same as one sign or as two."""
    place = tmp_path / "old.sqlite3"
    composed, apart, other = "Br\u00fbl\u00e9", "bru\u0302le\u0301", "cotton rag"
    with closing(sqlite3.connect(place, isolation_level=None)) as connection:
        migrate(connection, place, migrations()[:4])
        for number, name in enumerate((other, composed, apart), start=1):
            # As that program wrote them: `plain` without regard to case alone.
            for table in ("papers", "printers", "inks", "settings"):
                connection.execute(
                    f"INSERT INTO {table} VALUES (?, ?, ?)", (number, name, name.casefold())
                )
            connection.execute(
                "INSERT INTO entries VALUES (?, ?, 'note', 'n', '2026-03-04', 'told', "
                "'2026-03-04', '0', ?, ?, ?, ?)",
                (number, f"{number:032x}", *[number] * 4),
            )
            connection.execute("INSERT INTO notes VALUES (?, 'n', NULL)", (number,))
    with open_log(place, write=True) as log:
        assert [entry.id for entry in find(log, Wanted(paper=apart))] == [2, 3]
        found = [
            (entry.uid, entry.printer, entry.paper, entry.inks, entry.settings)
            for entry in find(log)
        ]
        assert found == [
            (f"{1:032x}", *[other] * 4), (f"{2:032x}", *[composed] * 4),
            (f"{3:032x}", *[composed] * 4),
        ]  # fmt: skip
        assert log.connection.execute("PRAGMA foreign_key_check").fetchall() == []
        add_note(log, "more", Stated(paper=apart.upper()))
        assert len(find(log, Wanted(paper=composed))) == 3
    with closing(sqlite3.connect(f"{place}.backup-1")) as connection:
        assert schema_version(connection) == 4
        assert connection.execute("SELECT count(*) FROM papers").fetchone() == (3,)


def test_a_copy_is_there_once_whichever_spelling_an_earlier_program_kept(tmp_path: Path) -> None:
    composed, apart = "Br\u00fbl\u00e9", "Bru\u0302le\u0301"
    picture = tmp_path / "picture.tif"
    picture.write_bytes(b"pixels")
    with open_log(tmp_path / "log.sqlite3", write=True) as log:
        for number in (1, 2):
            add_print(log, picture, Stated(), title=composed, copy=(number, 25))
        # As that program wrote the second: another title to it, and so in its uid.
        with log.writing():
            log.connection.execute("UPDATE prints SET title = ? WHERE copy = 2", (apart,))
            log.connection.execute("UPDATE entries SET uid = ? WHERE id = 2", ("2" * 32,))
        for title in (composed, apart):
            again = add_print(log, picture, Stated(), title=title, copy=(2, 25))
            assert (again.id, again.new) == (2, False)
        assert edition_of(log, composed) == (1, 2)
