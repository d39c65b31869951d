"""`greyscale log` and `--log` as a person uses them."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import pytest
from support.corrections import NEXT_ROUND, proof_of
from support.invoked import invoke, refused, said
from support.logged import MEASURED, PRINTER, correction_folder, reading_file

from greyscale.cli.recording import record_correction
from greyscale.correction.folder import read_correction
from greyscale.readings.formats import read
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import Layout, write_layout

ENVIRONMENT = {**os.environ, "COLUMNS": "200"}


run = partial(said, COLUMNS="160")


def data_of(*arguments):
    return json.loads(run(*arguments, "--json", "-"))


@pytest.fixture(scope="module")
def changed(tmp_path_factory) -> Path:
    """A log of nine weeks; after the sixth reading the print turned yellowish. Only to be read."""
    folder = tmp_path_factory.mktemp("changed")
    files = [
        reading_file(
            folder, week, created=MEASURED + timedelta(weeks=week), b=1.8 if week >= 6 else 0.0
        )
        for week in range(9)
    ]
    db = folder / "log.sqlite3"
    run("log", "add", *files, "--inks", "batch 12", "--correction", "none", "--db", db)
    run("log", "add", "--note", "New yellow ink", "--at", "2026-04-14", "--db", db)
    return db


def test_what_nobody_said_of_a_print_is_not_supposed_and_asked_for(tmp_path, db):
    """Readings of which it isn't stated whether they went through a correction aren't trended."""
    files = [reading_file(tmp_path, number) for number in range(3)]
    said = run("log", "add", *files, "--db", db)
    assert "Not stated: whether the chart was printed through a correction." in said
    assert "not stated whether through a correction" in run("log", "show", "1", "--db", db)
    left_out = refused("log", "trend", "--db", db)
    assert "Entries 1, 2 and 3 do not state" in left_out
    assert "greyscale log add READING --correction none" in left_out
    run("log", "add", *files[:2], "--correction", "none", "--db", db)
    assert "Printed without correction" in run("log", "show", "1", "--db", db)
    trend = data_of("log", "trend", "--db", db)
    assert [one["entry"] for one in trend["readings"]] == [1, 2]
    assert any("Entry 3 does not state" in remark for remark in trend["remarks"])


def test_a_reading_is_recorded_with_the_layout_that_it_was_analysed_with(tmp_path, db):
    """One without device values needs it; one that is there without it is there once."""
    own = reading_file(tmp_path)
    bare, layout = tmp_path / "bare.csv", tmp_path / "chart.txt"
    one = read(own)
    places = tuple(f"A{number}" for number in range(1, len(one) + 1))
    write_layout(Layout("chart", one.ids, places, one.device), layout)
    rows = [f"{name},{L},{a},{b}" for name, (L, a, b) in zip(one.ids, one.lab, strict=True)]
    bare.write_text("\n".join(["id,L*,a*,b*", *rows]) + "\n", encoding="utf-8")
    run("analyse", bare, "--layout", layout, "--log", "--db", db)
    run("log", "add", own, "--db", db)
    run("analyse", own, "--layout", layout, "--log", "--db", db)
    entries = data_of("log", "list", "--db", db)["entries"]
    assert [one["kind"] for one in entries] == ["reading", "reading"]


def test_of_many_files_the_sound_ones_are_added_and_the_others_named(tmp_path, db):
    files = [reading_file(tmp_path, number) for number in range(3)]
    broken = tmp_path / "broken.txt"
    broken.write_text("no reading at all\n")
    result = invoke("log", "add", *files[:2], broken, files[2], "--db", db, code=1)
    assert result.stdout.count("is in the print log") == 3
    assert "broken.txt" in result.stderr
    assert "1 of 4 files was not added" in result.stderr


def test_what_was_added_is_listed_shown_and_given_back(tmp_path, db):
    path = reading_file(tmp_path, 1)
    said = run("log", "add", path, "--inks", "batch 12", "--note", "heads cleaned", "--db", db)
    assert "Entry 1: the reading 'reading 1' is in the print log." in said
    assert "Entry 2: the note 'heads cleaned' is in the print log." in said
    listed = run("log", "list", "--db", db)
    assert "entry when kind name printer paper in short" in listed
    assert f"1 2026-03-04 reading reading 1 {PRINTER} cotton rag M1" in listed
    assert "note heads cleaned" in listed
    assert "about 1" in listed
    assert listed.endswith("2 entries.")
    shown = run("log", "show", 1, "--db", db)
    assert "Measured 2026-03-04 10:30" in shown
    assert "Inks batch 12" in shown
    assert "Notes entry 2" in shown
    assert "In short Neutral within" in shown
    run("log", "show", 1, "-o", tmp_path / "back", "--db", db)
    assert (tmp_path / "back" / path.name).read_bytes() == path.read_bytes()
    assert refused("log", "show", 3, "--db", db).endswith("'greyscale log list' shows all")


def test_adding_again_completes(tmp_path, db):
    path = reading_file(tmp_path, 1)
    run("log", "add", path, "--db", db)
    said = run("log", "add", path, "--settings", "fast", "--at", "2026-03-01 08:15", "--db", db)
    assert "was in the print log already; now settings 'fast' and time 2026-03-01T08:15:00" in said
    entry = data_of("log", "show", 1, "--db", db)
    assert (entry["settings"], entry["moment"]) == ("fast", "2026-03-01T08:15:00")


def test_the_list_can_be_narrowed(changed):
    def names(*options):
        return [one["name"] for one in data_of("log", "list", *options, "--db", changed)["entries"]]

    assert len(names()) == 10
    assert names("--kind", "note") == ["New yellow ink"]
    assert names("--text", "YELLOW") == ["New yellow ink"]
    assert names("--since", "2026-04-22") == ["reading 7", "reading 8"]
    assert names("--until", "2026-03-11", "--paper", "cotton") == ["reading 0", "reading 1"]
    assert names("--printer", "another") == []
    assert run("log", "list", "--kind", "note", "--db", changed).endswith("1 of 10 entries.")
    assert "not a kind of entry" in refused("log", "list", "--kind", "prints", "--db", changed)


def test_a_change_is_told_dated_and_explained(changed):
    said = run("log", "trend", "--db", changed)
    first, rest = said.split("The latest print differs")
    assert "cotton rag, six-ink, studio 9 readings, M1, white backing" in first
    assert "The print has changed since the reading of 15 April 2026 (entry 7)" in first
    assert "mean Δb* is" in first
    assert "towards yellowish" in rest
    assert "Noted at that time: 'New yellow ink' (14 April 2026)." in rest
    assert "10 2026-04-14 New yellow ink" in " ".join(first.split())
    assert first.index("A new correction is worth it") < first.index("The print has changed since")


def test_a_trend_as_json(changed):
    data = data_of("log", "trend", "--db", changed)
    assert data["schema"] == "greyscale/trend/1"
    assert (data["verdict"], data["changed"], data["since"]) == ("changed", True, 7)
    assert data["worth_correcting"] is True
    assert [one["entry"] for one in data["readings"]] == list(range(1, 10))
    chart = data["charts"]["mean_delta_b"]
    assert len(chart["values"]) == len(chart["moving_range"]) == 9
    assert chart["moving_range"][0] is None
    assert chart["lower"] < chart["centre"] < chart["upper"]
    assert data["moved"]["hue"] == "yellowish"


def test_a_trend_of_what_is_left(changed):
    before = data_of("log", "trend", "--until", "2026-04-10", "--db", changed)
    assert before["verdict"] == "steady"
    assert len(before["readings"]) == 6
    left = data_of("log", "trend", "--leave-out", 3, "--leave-out", 4, "--db", changed)
    assert [one["entry"] for one in left["readings"]] == [1, 2, 5, 6, 7, 8, 9]
    assert data_of("log", "trend", "--baseline", 6, "--db", changed)["baseline"] == 6
    assert "give 2 to 9" in refused("log", "trend", "--baseline", 10, "--db", changed)
    assert "as asked for" in refused("log", "trend", "--condition", "M2", "--db", changed)


def test_a_report_of_a_trend(changed, tmp_path):
    folder = tmp_path / "report"
    said = run("log", "trend", "--db", changed, "-o", folder)
    assert f"The report is {folder / 'report.html'}" in said
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert "The print has changed since the reading of 15 April 2026" in page
    assert "greyscale log trend" in page or "<code>" in page
    assert json.loads((folder / "trend.json").read_text(encoding="utf-8")) == data_of(
        "log", "trend", "--db", changed
    )
    figures = {path.stem for path in (folder / "figures").iterdir()}
    assert figures == {"neutrality", "tone", "paper-black", "movement"}


def test_a_log_is_not_overwritten_by_what_it_is_asked_for(changed):
    before = changed.read_bytes()
    for command in (
        ("log", "trend", "--json", changed),
        ("log", "list", "--json", changed),
        ("log", "show", 1, "--json", changed),
        ("log", "export", "-o", changed),
    ):
        assert "this is an input" in refused(*command, "--db", changed)
    assert changed.read_bytes() == before


def test_readings_that_are_unlike_are_never_mixed(tmp_path, db):
    for number, condition in enumerate(("M1", "M1", "M2", "M0")):
        path = reading_file(tmp_path, number, condition=condition)
        run("log", "add", path, "--correction", "none", "--db", db)
    message = refused("log", "trend", "--db", db)
    choices = dict(re.findall(r"^  --condition (\w+)   \((\d) reading", message, re.MULTILINE))
    assert choices == {"M1": "2", "M2": "1", "M0": "1"}
    chosen = data_of("log", "trend", "--condition", "M1", "--db", db)
    assert [one["entry"] for one in chosen["readings"]] == [1, 2]


def test_out_and_in_again(changed, tmp_path, db):
    for target in ("log.json", "folder"):
        assert "10 entries written" in run(
            "log", "export", "-o", tmp_path / target, "--db", changed
        )
    assert "10 entries added, 0 in" in run("log", "import", tmp_path / "log.json", "--db", db)
    assert "0 entries added, 10 in" in run("log", "import", tmp_path / "folder", "--db", db)
    ours, theirs = (data_of("log", "trend", "--db", one) for one in (db, changed))
    assert ours["charts"] == theirs["charts"]


def test_nothing_to_add_and_misread_readings_are_refused(tmp_path, db):
    assert "nothing to add" in refused("log", "add", "--db", db)
    assert "no such file" in refused("log", "add", tmp_path / "none.txt", "--db", db)
    assert "no such file" in refused(
        "log", "add", reading_file(tmp_path, 1), tmp_path / "none.txt", "--db", db
    )
    assert not db.exists()


def test_without_a_log_there_is_nothing_to_see(db):
    for command in (("list",), ("show", 1), ("trend",), ("export", "-o", db.with_name("e.json"))):
        assert "there is no print log here yet" in refused("log", *command, "--db", db)


class TestLogOption:
    """`--log` on the commands that read, solve and judge."""

    def test_of_analyse(self, tmp_path, db):
        path = reading_file(tmp_path, 1)
        said = run("analyse", path, "--log", "--db", db)
        assert said.endswith("Entry 1: the reading 'reading 1' is in the print log.")
        result = run("analyse", path, "--log", "--db", db, "--json", "-")
        assert json.loads(result)["schema"] == "greyscale/analysis/1"
        assert len(data_of("log", "list", "--db", db)["entries"]) == 1

    def test_its_file_alone_is_a_slip(self, tmp_path, db):
        path = reading_file(tmp_path, 1)
        for command in (
            ("analyse", path),
            ("correct", path, "-o", tmp_path / "c"),
            ("verify", path, "--correction", tmp_path / "c"),
        ):
            assert "add --log to write to it" in refused(*command, "--db", db)

    def test_of_verify(self, tmp_path, db, monkeypatch):
        monkeypatch.setattr("greyscale.correction.verify.next_round", lambda *given: NEXT_ROUND)
        folder = correction_folder(tmp_path / "harbour-light")
        proof = tmp_path / "proof.txt"
        write(proof_of(read_correction(folder)), proof)
        said = run("verify", proof, "--correction", folder, "--log", "--db", db)
        assert "the verification 'Harbour light, \"première\", round 1' is in the print log" in said
        entries = data_of("log", "list", "--db", db)["entries"]
        by_kind = {one["kind"]: one for one in entries}
        made, printed, found = (by_kind[k] for k in ("correction", "reading", "verification"))
        assert printed["reading"]["through"] == made["id"]
        assert found["verification"]["reading"] == printed["id"]
        assert found["verification"]["result"]["schema"] == "greyscale/verification/1"
        assert "Verified in entry" in run("log", "show", made["id"], "--db", db)
        # The trend holds the print against the correction's own aims, as the verification did.
        verdict = "is" if found["verification"]["within_tolerance"] else "is not"
        trend = run("log", "trend", "--correction", made["id"], "--db", db)
        assert (
            f"Printed through 'Harbour light, \"première\"', the latest {verdict} within the "
            f"exhibition tolerance: mean ΔCh {found['verification']['mean_delta_Ch']:.2f}, "
            f"largest {found['verification']['max_delta_Ch']:.2f}."
        ) in trend
        assert f"greyscale log add READING --db {db}" in trend

    def test_of_correct(self, tmp_path, db):
        path = reading_file(tmp_path, 1)
        said = run("correct", path, "--name", "Sea", "-o", tmp_path / "sea", "--log", "--db", db)
        assert said.endswith(
            "Entry 1: the reading 'reading 1' is in the print log. "
            "Entry 2: the correction 'Sea' is in the print log."
        )
        shown = run("log", "show", 2, "--db", db)
        assert "Made from 'reading 1' (entry 1)" in shown
        run("log", "show", 2, "-o", tmp_path / "back", "--db", db)
        for name in ("correction.json", "correction-1d.cube", "correction-3d.cube"):
            kept, given = (tmp_path / place / name for place in ("back", "sea"))
            assert kept.read_bytes() == given.read_bytes()

    def test_of_a_next_round(self, tmp_path, db):
        first = correction_folder(tmp_path / "first", created=datetime(2026, 3, 5))
        second = correction_folder(
            tmp_path / "second", round=2, follows='Harbour light, "première"'
        )
        proof = reading_file(tmp_path, 1)
        record_correction(
            db,
            second,
            [proof],
            first,
            ramp=None,
            layout=None,
            printer=None,
            paper=None,
            settings=None,
        )
        entries = {one["id"]: one for one in data_of("log", "list", "--db", db)["entries"]}
        assert [entries[i]["kind"] for i in (1, 2, 3)] == ["correction", "reading", "correction"]
        assert entries[2]["reading"]["through"] == 1
        assert entries[3]["correction"]["follows"] == 1


def started(*arguments):
    return subprocess.Popen(
        [sys.executable, "-m", "greyscale", *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=ENVIRONMENT,
    )


def test_two_commands_that_add_at_once_lose_nothing(tmp_path, db):
    files = [reading_file(tmp_path, number) for number in range(8)]
    both = [started("log", "add", *files[i::2], "--db", db) for i in (0, 1)]
    for process in both:
        stdout, stderr = process.communicate(timeout=120)
        assert process.returncode == 0, stderr
        assert stdout.count("is in the print log.") == 4
    names = {one["name"] for one in data_of("log", "list", "--db", db)["entries"]}
    assert names == {f"reading {number}" for number in range(8)}


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system knows no SIGKILL")
def test_a_killed_command_loses_nothing_but_its_own_add(tmp_path, db):
    run("log", "add", reading_file(tmp_path, 0), "--db", db)
    files = [reading_file(tmp_path, number) for number in range(1, 30)]
    process = started("log", "add", *files, "--unchecked", "--db", db)
    journal = db.with_name(db.name + "-wal")
    deadline = time.monotonic() + 60
    # Killed as soon as it has begun to write.
    while process.poll() is None and time.monotonic() < deadline:
        if journal.exists() and journal.stat().st_size > 0:
            process.kill()
            break
        time.sleep(0.001)
    process.communicate()
    entries = data_of("log", "list", "--db", db)["entries"]
    assert len(entries) in (1, 30)
    assert entries[0]["name"] == "reading 0"
    assert "is in the print log" in run("log", "add", reading_file(tmp_path, 99), "--db", db)


def test_bad_logs_end_in_one_message_and_2(tmp_path, runner):
    photo = tmp_path / "photo.tif"
    photo.write_bytes(b"II*\x00" + bytes(9000))
    done = runner.run("log", "list", "--db", photo, cwd=tmp_path)
    assert done.code == 2
    assert done.out == ""
    assert (
        done.err
        == f"greyscale: {photo}: is not a print log, nor any other database; give another file\n"
    )


def test_the_log_is_found_in_the_users_data_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("HOME", str(tmp_path))
    run("log", "add", "--note", "first of all")
    assert "first of all" in run("log", "list")
    assert [path.name for path in tmp_path.rglob("*.sqlite3")] == ["print-log.sqlite3"]


@pytest.mark.parametrize(
    "command", ["add", "list", "show", "print", "status", "trend", "export", "import"]
)
def test_every_command_has_an_example_that_names_it(command):
    text = run("log", command, "--help").replace("- ", "-")
    assert f"Example: greyscale log {command} " in text


def test_the_list_shows_every_entry_however_many(db):
    for number in range(41):
        run("log", "add", "--note", f"note {number}", "--db", db)
    said = run("log", "list", "--db", db)
    assert said.startswith("entry when kind")
    assert re.findall(r"note (\d+) – –", said) == [str(number) for number in range(41)]
