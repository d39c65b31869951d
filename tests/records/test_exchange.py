"""The log in open formats, out and in again: complete, once, and never half."""

from __future__ import annotations

import base64
import hashlib
import json
import os
import shutil
from datetime import datetime
from pathlib import Path

import pytest
from support.corrections import NEXT_ROUND, correction_with, curve_against, proof_of
from support.logged import correction_folder, reading_file

from greyscale.base.errors import BadInput
from greyscale.correction.verify import verify
from greyscale.readings.iso28178 import write
from greyscale.records.add_reading import add_readings
from greyscale.records.adding import Stated, add_correction, add_note, add_print, add_verification
from greyscale.records.exchange import SCHEMA, Imported, export_folder, export_json, import_log
from greyscale.records.print_log import open_log
from greyscale.reporting.verification_report import verification_data


@pytest.fixture(scope="module")
def full(tmp_path_factory) -> Path:
    """A log with everything in it: two rounds, prints, a verification, notes; none changes it."""
    folder = tmp_path_factory.mktemp("full")
    db = folder / "log.sqlite3"
    name = "Harbour light"
    first = correction_with(curve_against(), name=name, created=datetime(2026, 3, 5))
    proof = folder / "proof.txt"
    write(proof_of(first), proof)
    with open_log(db, write=True) as log:
        add_readings(log, reading_file(folder, 1), Stated(inks="batch 12"))
        latin = reading_file(folder, 2)
        latin.write_bytes(latin.read_bytes().replace(b"reading 2", "Tür 2".encode("latin-1")))
        add_readings(log, latin)
        # The later one first, so that it points to an entry after it.
        second = add_correction(
            log, correction_folder(folder / "second", name=name, round=2, follows=name)
        )
        made = add_correction(
            log, correction_folder(folder / "first", name=name, created=datetime(2026, 3, 5))
        )
        (printed,) = add_readings(log, proof, through=made.id)
        # Whether another round pays is solved for long, and is nothing to the log.
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("greyscale.correction.verify.next_round", lambda *given: NEXT_ROUND)
            found = verify(proof_of(first), first)
        add_verification(
            log, found, verification_data(found), reading=printed.id, correction=made.id
        )
        picture = folder / "lighthouse.tif"
        picture.write_bytes(b"a picture")
        add_print(
            log,
            picture,
            Stated(paper="cotton rag"),
            title="Lighthouse",
            copy=(1, 25),
            correction=made.id,
            batch="spring",
            strip=printed.id,
        )
        about = add_note(log, "Neutral, at last.", about=second.id)
        add_note(log, "A note about a note", about=about.id)
    return db


def entries_of(db):
    """All entries without the numbers that only one log has, as an export has them."""
    with open_log(db) as log:
        target = db.with_name(f"{db.stem}-all.json")
        export_json(log, target)
    return {one["uid"]: one for one in json.loads(target.read_text(encoding="utf-8"))["entries"]}


def exported(db, target):
    with open_log(db) as log:
        (export_json if target.suffix == ".json" else export_folder)(log, target)
    return target


def imported(db, source) -> Imported:
    with open_log(db, write=True) as log:
        return import_log(log, source)


def test_a_pipe_in_place_of_a_file_is_refused_and_not_waited_for(full, tmp_path, db):
    folder = exported(full, tmp_path / "log")
    first = next(path for path in (folder / "files").iterdir())
    first.unlink()
    os.mkfifo(first)
    with pytest.raises(BadInput, match="a device or a pipe"):
        imported(db, folder)


@pytest.mark.parametrize("target", ["log.json", "log"])
def test_all_of_it_comes_back_once(full, tmp_path, db, target):
    source = exported(full, tmp_path / target)
    assert imported(db, source) == Imported(9, 0)
    assert imported(db, source) == Imported(0, 9)
    assert entries_of(db) == entries_of(full)
    with open_log(db) as log, open_log(full) as before:
        kept = [[row[:] for row in one.connection.execute("SELECT sha256, packed FROM files "
                "ORDER BY 1")] for one in (log, before)]  # fmt: skip
    assert kept[0] == kept[1]


def test_a_log_takes_what_it_lacks_and_keeps_what_it_has(full, tmp_path, db):
    with open_log(db, write=True) as log:
        add_readings(log, reading_file(tmp_path, 1, printer="six-ink, studio"))
        add_note(log, "only here")
    assert imported(db, exported(full, tmp_path / "log.json")) == Imported(8, 1)
    mine, theirs = entries_of(db), entries_of(full)
    assert len(mine) == 10
    assert theirs.keys() < mine.keys()
    # The same file was added here without inks: that is filled in, and nothing else changed.
    (reading,) = (one for one in mine.values() if one["name"] == "reading 1")
    assert reading["inks"] == "batch 12"
    copy = Path(shutil.copy(full, tmp_path / "copy.sqlite3"))
    assert imported(copy, exported(db, tmp_path / "back.json")) == Imported(1, 9)


def test_the_folder_holds_the_files_as_they_were_given(full, tmp_path):
    folder = exported(full, tmp_path / "log")
    data = json.loads((folder / "print-log.json").read_text(encoding="utf-8"))
    assert data["schema"] == SCHEMA
    for file in data["files"]:
        content = (folder / file["path"]).read_bytes()
        assert hashlib.sha256(content).hexdigest() == file["sha256"]
        assert len(content) == file["size"]
    original = (full.parent / "reading-1.txt").read_bytes()
    assert original in [path.read_bytes() for path in (folder / "files").iterdir()]


def test_one_json_holds_text_as_text_and_all_else_as_base64(full, tmp_path):
    data = json.loads(exported(full, tmp_path / "log.json").read_text(encoding="utf-8"))
    kinds = {"text" if "text" in file else "base64" for file in data["files"]}
    assert kinds == {"text", "base64"}
    (latin,) = (file for file in data["files"] if "base64" in file)
    assert "Tür 2".encode("latin-1") in base64.b64decode(latin["base64"])
    (verification,) = (one for one in data["entries"] if one["kind"] == "verification")
    assert verification["verification"]["result"]["schema"] == "greyscale/verification/1"


def test_exporting_overwrites_neither_the_log_nor_other_files(full, tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    with open_log(full) as log:
        with pytest.raises(BadInput, match="this is an input"):
            export_json(log, full)
        with pytest.raises(BadInput, match="holds other files"):
            export_folder(log, tmp_path)
        export_folder(log, tmp_path / "log")
        export_folder(log, tmp_path / "log")
    assert {path.name for path in tmp_path.iterdir()} == {"mine.txt", "log"}


def changed(path, change):
    data = json.loads(path.read_text(encoding="utf-8"))
    change(data)
    path.write_text(json.dumps(data), encoding="utf-8")


def by_kind(data, kind):
    return next(one for one in data["entries"] if one["kind"] == kind)


DAMAGE = {
    "another schema": (lambda d: d.update(schema="songs/1"), "says schema 'songs/1'"),
    "a later schema": (lambda d: d.update(schema="greyscale/print-log/2"), "Update greyscale"),
    "a field gone": (lambda d: d["entries"][3].pop("moment"), "moment' is missing"),
    "a wrong kind": (lambda d: d["entries"][0].update(kind="song"), "'kind' that no print log"),
    "a wrong uid": (lambda d: d["entries"][0].update(uid="../x"), "'uid' that no print log"),
    "a wrong role": (
        lambda d: by_kind(d, "reading")["files"][0].update(role="song"),
        "'files' that no print log",
    ),
    "no number": (
        lambda d: by_kind(d, "verification")["verification"].update(mean_delta_Ch="low"),
        "should be a number",
    ),
    "no object": (
        lambda d: by_kind(d, "verification")["verification"].update(result=[1, 2]),
        "should be a JSON object",
    ),
    "a file changed": (lambda d: d["files"][0].update(text="other"), "not what was exported"),
    "a file gone": (lambda d: d["files"].pop(0), "is missing in it"),
    "a file that points elsewhere": (
        lambda d: (d["files"][0].pop("text"), d["files"][0].update(path="../../etc/passwd")),
        "cannot be read|no such file",
    ),
    "no base64": (
        lambda d: (d["files"][0].pop("text"), d["files"][0].update(base64="!")),
        "cannot be read",
    ),
    "a reading of nothing": (
        lambda d: by_kind(d, "verification")["verification"].update(reading="0" * 64),
        "points to the reading",
    ),
    "a print through a note": (
        lambda d: by_kind(d, "reading")["reading"].update(through=by_kind(d, "note")["uid"]),
        "points to the correction",
    ),
    "a file twice": (
        lambda d: by_kind(d, "reading")["files"].append(by_kind(d, "reading")["files"][0]),
        "contradicts itself",
    ),
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_damaged_export_is_refused_whole(full, tmp_path, db, damage):
    change, says = DAMAGE[damage]
    source = exported(full, tmp_path / "log.json")
    changed(source, change)
    with pytest.raises(BadInput, match=says):
        imported(db, source)
    assert not list(db.parent.glob(f"{db.name}*"))


def test_what_is_no_export_is_refused(tmp_path, db):
    with pytest.raises(BadInput, match="no exported print log here"):
        imported(db, tmp_path)
    with pytest.raises(BadInput, match="no exported print log here"):
        imported(db, tmp_path / "nothing.json")
    (tmp_path / "half.json").write_text('{"schema": "greyscale/print-log/1", "entr')
    with pytest.raises(BadInput, match="not complete JSON"):
        imported(db, tmp_path / "half.json")
    assert not list(db.parent.glob(f"{db.name}*"))


def test_a_folder_whose_file_was_changed_is_refused(full, tmp_path, db):
    folder = exported(full, tmp_path / "log")
    path = next((folder / "files").iterdir())
    content = path.read_bytes()
    path.write_bytes(content + b"\n")
    with pytest.raises(BadInput, match="not what was exported"):
        imported(db, folder)
    path.write_bytes(content)
    moved = shutil.move(folder, tmp_path / "elsewhere")
    assert imported(db, moved).added == 9
