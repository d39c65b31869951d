"""`greyscale log status` as a person uses it: from the first reading to the proof, and later."""

from __future__ import annotations

import json
import shlex
import sqlite3
import subprocess
import sys
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from support.corrections import LEVELS, NEXT_ROUND, proof_of
from support.invoked import invoke
from support.logged import PAPER, PRINTER, correction_folder, reading_file, sheet_reading

from greyscale.analysis.analyse import analyse
from greyscale.base.errors import BadInput
from greyscale.cli.recording import as_learnt
from greyscale.correction.folder import read_correction
from greyscale.readings.formats import read
from greyscale.readings.iso28178 import write
from greyscale.records.print_log import APPLICATION_ID, migrations

NOW = datetime.now().replace(microsecond=0)
WEEK = timedelta(weeks=1)


def run(*arguments):
    return invoke(*arguments, code=0, COLUMNS="80").stdout


def rows_of(db, *options):
    data = json.loads(run("log", "status", "--db", db, "--json", "-", *options))
    assert data["schema"] == "greyscale/status/1"
    return data["rows"]


@pytest.fixture
def still(monkeypatch):
    """Whether another round pays is solved for long, and is nothing to the log."""
    monkeypatch.setattr("greyscale.correction.verify.next_round", lambda *given: NEXT_ROUND)


def test_a_row_has_what_an_analysis_of_the_reading_has(tmp_path, db):
    path = reading_file(tmp_path, 1, created=NOW - WEEK, a=2.0)
    run("log", "add", path, "--correction", "none", "--db", db)
    found = analyse(read(path), lights=())
    for _ in range(2):  # Computed, and then as they were kept.
        (row,) = rows_of(db)
        assert (row["printer"], row["paper"], row["settings"]) == (PRINTER, PAPER, None)
        assert row["age_days"] == pytest.approx(7, abs=0.01)
        assert row["mean_delta_Ch"] == pytest.approx(found.neutrality.mean_delta_Ch)
        assert row["max_delta_Ch"] == pytest.approx(found.neutrality.max_delta_Ch)
        assert row["rms_delta_L"] == pytest.approx(found.tone.rms_delta_L)
        assert row["dmax"] == pytest.approx(found.patches.density[found.patches.black_index])
        assert (row["step"], row["state"]) == ("correct", "too few readings")


def test_the_commands_that_it_names_lead_on(tmp_path, db, monkeypatch, still):
    """From a first reading: each command is run as it stands, until nothing is left to do."""
    monkeypatch.chdir(tmp_path)
    # Its figures are drawn for long, and are nothing to the log.
    monkeypatch.setattr(
        "greyscale.reporting.html.write_report",
        lambda *given, **options: None,
    )
    first = reading_file(tmp_path, 1, created=NOW - WEEK, a=2.0)
    run("log", "add", first, "--settings", "matte, fast", "--db", db)
    steps = []
    for _ in range(6):
        (row,) = rows_of(db)
        steps.append(row["step"])
        if row["step"] == "nothing":
            break
        for command in (row["command"] or "").split(" && "):
            # Small, as it is the way that is tried.
            small = ["--lut-size", "9"] if " correct " in command else []
            run(*shlex.split(command)[1:], *small)
        if row["step"] == "print a proof":
            made = read_correction(tmp_path / "correction-cotton-rag")
            write(proof_of(made, sd=0.05, created=NOW - WEEK / 7), tmp_path / "proof.txt")
            entry = str(row["correction"]["entry"])
            run("log", "add", tmp_path / "proof.txt", "--correction", entry, "--db", db)
    assert steps == ["say how it was printed", "correct", "print a proof", "prove", "nothing"]
    assert row["correction"]["proof"]["within_tolerance"] is True
    assert (row["promises"], row["promises_kept"]) == (1, 1)
    assert row["not_before"][:10] == f"{NOW - WEEK / 7 + 4 * WEEK:%Y-%m-%d}"
    words = " ".join(run("log", "status", "--db", db).split())
    assert "1 of 1 promise kept (that print lies no further off than chance, and" in words


@pytest.mark.parametrize("sent", [None, "Harbour light"])
def test_a_proof_is_not_said_to_be_without_a_correction(tmp_path, db, sent):
    """Its own code says that it is one, or its file; which correction, only the person knows."""
    proof = tmp_path / "proof.txt"
    write(sheet_reading("Harbour light", sent_through=sent), proof)
    run("log", "add", proof, "--db", db)
    (row,) = rows_of(db)
    assert row["step"] == "say how it was printed"
    assert "through which correction 'reading 0' was printed: through one, it says" in row["next"]
    assert "--correction FOLDER" in row["command"]
    with pytest.raises(BadInput, match="name that"):
        run("log", "add", proof, "--correction", "none", "--db", db)


def test_no_two_rows_name_the_same_file(tmp_path, db):
    names = [("first", None), ("second", None), ("second", "fast"), ("second fast", None)]
    for number, (printer, settings) in enumerate(names):
        path = reading_file(tmp_path, number, printer=printer, settings=settings, a=3.0)
        run("log", "add", path, "--correction", "none", "--db", db)
    made = [shlex.split(row["command"].split(" && ")[-1]) for row in rows_of(db)]
    targets = {words[words.index("-o") + 1] for words in made}
    assert len(targets) == len(names)
    assert all(target.startswith("correction-cotton-rag") for target in targets)


def test_a_printer_that_drifts_comes_first_and_agrees_with_the_trend(tmp_path, db):
    for week in range(9):
        moment = NOW - (9 - week) * WEEK
        changed = reading_file(tmp_path, week, created=moment, b=1.8 if week >= 6 else 0.0)
        steady = reading_file(tmp_path, 20 + week, created=moment, paper="baryta")
        run("log", "add", changed, steady, "--correction", "none", "--db", db)
    folder = correction_folder(tmp_path / "sea", created=NOW - 5 * WEEK, settings=None)
    run("log", "add", folder, "--db", db)
    first, second = rows_of(db)
    assert (first["paper"], first["state"], first["step"]) == (PAPER, "drifting", "correct")
    assert (second["paper"], second["state"], second["step"]) == ("baryta", "steady", "nothing")
    trend = json.loads(run("log", "trend", "--paper", PAPER, "--db", db, "--json", "-"))
    since = next(one for one in trend["readings"] if one["entry"] == trend["since"])
    assert first["drift"]["since"] == since["moment"]
    assert first["drift"]["delta_Ch"] == pytest.approx(trend["moved"]["mean_delta_Ch"], abs=0.15)
    assert "The printer has drifted since" in first["next"]
    assert second["recheck_from_drift"] is True
    assert [row["paper"] for row in rows_of(db, "--paper", "bar")] == ["baryta"]
    damages = {"verdict": b"\xff", "since": "then", "delta_Ch": "much", "weeks": 10**15}
    for column, value in damages.items():
        with sqlite3.connect(db) as log:
            log.execute(f"UPDATE courses SET {column} = ?", (value,))
        log.close()
        drifts = [row["drift"] for row in rows_of(db)]
        assert drifts == [first["drift"], second["drift"]], column


def test_a_printer_that_has_come_back_is_steady_and_the_trend_says_so(tmp_path, db):
    for week in range(7):
        moment = NOW - (6 - week) * WEEK
        path = reading_file(tmp_path, week, created=moment, b=3.0 if 3 <= week < 6 else 0.0)
        run("log", "add", path, "--correction", "none", "--db", db)
    (row,) = rows_of(db)
    assert (row["state"], row["step"]) == ("steady", "nothing")
    said = " ".join(run("log", "trend", "--db", db).split())
    assert "It has come back and is as it was since " in said
    assert " others in less: misread, or another sheet? The latest print" in said


def test_a_printer_that_drifted_to_where_it_is_good_is_said_to_have(tmp_path, db):
    for week in range(7):
        moment = NOW - (6 - week) * WEEK
        path = reading_file(tmp_path, week, created=moment, b=3.0 if week < 4 else 0.0)
        run("log", "add", path, "--correction", "none", "--db", db)
    (row,) = rows_of(db)
    assert (row["state"], row["step"]) == ("drifting", "nothing")
    since = NOW - 2 * WEEK
    assert row["next"].startswith(f"It has drifted since {since.day} {since:%B %Y}, but is good as")


def test_the_overview_as_a_report(tmp_path, db):
    for week in range(3):
        for number, paper in enumerate(("cotton rag", "baryta")):
            moment = NOW - (3 - week) * WEEK
            path = reading_file(tmp_path, 10 * week + number, paper=paper, created=moment, b=3.0)
            run("log", "add", path, "--correction", "none", "--db", db)
    run("log", "status", "-o", tmp_path / "over", "--db", db)
    page = (tmp_path / "over" / "report.html").read_text(encoding="utf-8")
    assert "2 of 2 ask for something now." in page
    assert "<li>baryta, six-ink, studio: Make the correction from" in page
    assert "cotton rag, six-ink, studio: 3 readings, the latest" in page
    data = json.loads((tmp_path / "over" / "status.json").read_text(encoding="utf-8"))
    assert [row["paper"] for row in data["rows"]] == ["baryta", "cotton rag"]
    assert {path.suffix for path in (tmp_path / "over" / "figures").iterdir()} == {".png", ".svg"}


def test_the_table_fits_80_columns_whatever_the_names(tmp_path, db):
    name = "a cotton rag paper with quite a long name, 310 g, batch of last spring"
    for number, paper in enumerate((name, "[red]rag[/red]", "short")):
        path = reading_file(tmp_path, number, paper=paper, created=NOW - number * 40 * WEEK)
        run("log", "add", path, "--correction", "none", "--settings", "fine, slow", "--db", db)
    said = run("log", "status", "--db", db)
    table = said.split("\n\n")[0]
    # It ends with what to do: the table, what was found, and then the commands, each once.
    places = [said.index(words) for words in ("RMS", "2 of 3 ask", "What to do next")]
    assert places == sorted(places)
    commands = [row["command"] for row in rows_of(db) if row["command"]]
    assert [said[places[2] :].count(f"\n   {one}\n") for one in commands] == [1, 1]
    assert [said.count(one) for one in commands] == [1, 1]
    assert max(map(len, table.splitlines())) <= 80
    assert "[red]rag[/red]" in table
    assert "6 months" in said or "9 months" in said


def test_nothing_as_asked_for_is_said(tmp_path, db):
    run("log", "add", reading_file(tmp_path, 1), "--correction", "none", "--db", db)
    with pytest.raises(BadInput, match="holds no reading or correction as asked for"):
        run("log", "status", "--paper", "another", "--db", db)


def test_who_asks_for_the_overview_waits_for_no_analysis_to_be_imported():
    code = (
        "import sys, greyscale.reporting.status_report, greyscale.records.standings\n"
        "slow = ('greyscale.analysis.analyse', 'greyscale.analysis.trend', 'greyscale.checks', "
        "'matplotlib', 'scipy')\n"
        "print(sorted(name for name in sys.modules if name.startswith(slow)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def uneven(made, **changes):
    """A proof whose tones miss what was promised, each for itself; paper and black are right."""
    found, lab = proof_of(made, **changes), made.curve.predict(LEVELS)
    between = (LEVELS > 0.0) & (LEVELS < 1.0)
    return replace(found, lab=np.where(between[:, np.newaxis], found.lab, lab))


def test_a_promise_is_scored_against_what_the_log_kept(tmp_path, db, still):
    """The correction's folder says wider bands by now; the log's own score does not follow."""
    folder = correction_folder(tmp_path / "sea", settings=None)
    run("log", "add", folder, "--db", db)
    proof = tmp_path / "proof.txt"
    write(uneven(read_correction(folder), sd=1.0, created=NOW), proof)
    data = json.loads((folder / "correction.json").read_text(encoding="utf-8"))
    data["curve"]["sd"] = [[9.0] * 3 for _ in data["curve"]["sd"]]
    (folder / "correction.json").write_text(json.dumps(data), encoding="utf-8")
    run("verify", proof, "--correction", folder, "--log", "--db", db)
    (row,) = rows_of(db)
    assert (row["promises"], row["promises_kept"]) == (1, 0)
    assert row["correction"]["promised_mean_delta_Ch"] == 0.2


def as_version(version, db, path):
    """The same log as an earlier program wrote it, with the tables that it had."""
    with sqlite3.connect(path) as connection:
        for script in migrations()[:version]:
            connection.executescript(script)
        connection.execute("ATTACH ? AS today", (str(db),))
        tables = connection.execute("SELECT name FROM main.sqlite_master WHERE type = 'table'")
        for (table,) in tables.fetchall():
            columns = connection.execute(
                f"SELECT name FROM pragma_table_info('{table}')"
            ).fetchall()
            names = ", ".join(name for (name,) in columns)
            connection.execute(f"INSERT INTO {table} ({names}) SELECT {names} FROM today.{table}")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {version}")
    connection.close()
    return path


def test_verifications_of_an_earlier_program_are_counted(tmp_path, db, still):
    folder = correction_folder(tmp_path / "sea", settings=None)
    proof = tmp_path / "proof.txt"
    write(proof_of(read_correction(folder), created=NOW), proof)
    run("verify", proof, "--correction", folder, "--log", "--db", db)
    earlier = as_version(2, db, tmp_path / "earlier.sqlite3")
    (row,) = rows_of(earlier)
    assert (row["promises"], row["promises_kept"]) == (1, 1)
    # It scored otherwise, which teaches nothing now; verified again, it is scored as today.
    other = "UPDATE verifications SET kept = 0, spread = 9, needed = 9, result = '{}'"
    with sqlite3.connect(earlier) as connection:
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        connection.execute(other)
    connection.close()
    (row,) = rows_of(earlier)
    assert (row["promises"], row["promises_kept"]) == (1, 0)
    said = run("verify", proof, "--correction", folder, "--log", "--db", earlier)
    (row,) = rows_of(earlier)
    assert (row["promises"], row["promises_kept"]) == (1, 1), said
    with sqlite3.connect(earlier) as connection:
        (scores,) = connection.execute("SELECT spread, needed FROM verifications").fetchall()
        assert max(scores) < 9
    connection.close()


def test_the_next_correction_of_a_printer_learns_from_its_broken_promises(tmp_path, db, still):
    folder = correction_folder(tmp_path / "sea", settings=None)
    made = read_correction(folder)
    assert as_learnt(db, made) is made
    for number in range(3):
        proof = tmp_path / f"proof-{number}.txt"
        write(uneven(made, sd=1.0, created=NOW - number * WEEK), proof)
        run("verify", proof, "--correction", folder, "--log", "--db", db)
    (row,) = rows_of(db)
    assert (row["promises"], row["promises_kept"]) == (3, 0)
    # What was read with a noise of 1.0 and stated with 0.12, less the noise that its repeats show.
    assert as_learnt(db, made).widened > 2.0
    assert as_learnt(db, replace(made, printer="another")).widened == 1.0
    # A doubt of the print teaches nothing, one of the printer does.
    for told, learnt in (("printer", True), ("proof", False)):
        changed(db, f"result = json_set(result, '$.doubted', json_array('{told}'))")
        assert (as_learnt(db, made) is not made) is learnt
    # Nor from what did not count in what sheets differ by.
    with sqlite3.connect(db) as connection:
        connection.execute("UPDATE verifications SET result = '{\"prediction_error\": {}}'")
    connection.close()
    assert as_learnt(db, made) is made


def changed(db, setting):
    with sqlite3.connect(db) as log:
        log.execute(f"UPDATE verifications SET {setting}")
    log.close()


def test_a_proof_in_doubt_proves_nothing_whichever_program_stored_it(tmp_path, db, still):
    folder = correction_folder(tmp_path / "sea", settings=None)
    good = proof_of(read_correction(folder), created=NOW - WEEK)
    # On a paper that is another by far: it neither keeps the promise nor breaks it.
    other = replace(good, lab=good.lab - (0.0, 0.0, 3.0), created=NOW)
    for number, one in enumerate((good, other)):
        write(one, tmp_path / f"{number}.txt")
        run("verify", tmp_path / f"{number}.txt", "--correction", folder, "--log", "--db", db)
    (stored,) = rows_of(db)
    assert stored["correction"]["proof"]["doubted"] == ["proof"]
    assert stored["correction"]["proof"]["promise_kept"] is None
    assert (stored["promises"], stored["promises_kept"]) == (1, 1)
    assert stored["step"] == "print a proof"
    # An earlier program stored neither doubts nor a verdict, and let it be within tolerance.
    without = "result = json_remove(result, '$.doubted', '$.verdict')"
    changed(db, f"within_tolerance = 1, kept = 1, {without}")
    (row,) = rows_of(db)
    assert {**row, "age_days": stored["age_days"]} == stored
    assert "proof in doubt" in " ".join(run("log", "status", "--db", db).split())
    listed = " ".join(run("log", "list", "--kind", "verification", "--db", db).split())
    assert (listed.count("pass, of"), listed.count("told, of")) == (1, 1), listed


def test_a_print_measured_in_another_way_is_measured_again(tmp_path, db, still):
    """As `verify` says of it, too."""
    folder = correction_folder(tmp_path / "sea", settings=None)
    proof = tmp_path / "proof.txt"
    made = read_correction(folder)
    write(proof_of(made, created=NOW - WEEK), proof)
    run("verify", proof, "--correction", folder, "--log", "--db", db)
    changed(db, "result = json_set(result, '$.doubted', json_array('reading'))")
    (row,) = rows_of(db)
    assert (row["step"], row["promises"]) == ("measure", 0)
    assert row["next"].startswith("Measure the print of 'proof on cotton rag' again in M1, as the")
    write(proof_of(made, created=NOW), tmp_path / "again.txt")
    for command in row["command"].split(" && "):
        words = shlex.split(command.replace("PROOF-READING", str(tmp_path / "again.txt")))[1:]
        run(*[str(tmp_path / one) if one.startswith("entry-") else one for one in words])
    (row,) = rows_of(db)
    assert (row["step"], row["promises"]) == ("nothing", 1)


NUMBER = (int, float)
PROMISED = {
    "printer": str,
    "paper": str,
    "settings": (str, type(None)),
    "reading": {"entry": int, "name": str, "moment": str, "through": (int, type(None))},
    "age_days": NUMBER,
    **dict.fromkeys(("mean_delta_Ch", "max_delta_Ch", "rms_delta_L", "dmax"), NUMBER),
    "correction": {
        "entry": int,
        "name": str,
        "round": int,
        "moment": str,
        "promised_mean_delta_Ch": NUMBER,
        "proof": {
            "reading": dict,
            "within_tolerance": bool,
            "worth_another_round": bool,
            "doubted": list,
            "promise_kept": bool,
        },
    },
    "promises_kept": int,
    "promises": int,
    "state": str,
    "drift": {"verdict": str, "since": (str, type(None)), "delta_Ch": NUMBER, "delta_L": NUMBER},
    "recheck_weeks": int,
    "recheck_from_drift": bool,
    "step": str,
    "next": str,
    "command": (str, type(None)),
    "not_before": (str, type(None)),
}
"""Schema "greyscale/status/1": each row."""


def assert_as_promised(found, promised, path="row"):
    if not isinstance(promised, dict):
        assert isinstance(found, promised), f"{path} is {found!r}"
        return
    assert found.keys() == promised.keys(), path
    for key, kind in promised.items():
        assert_as_promised(found[key], kind, f"{path}.{key}")


def test_every_promised_key_is_there_with_its_kind(tmp_path, db, still):
    folder = correction_folder(tmp_path / "sea", settings=None)
    proof = tmp_path / "proof.txt"
    write(proof_of(read_correction(folder), created=NOW - WEEK), proof)
    run("verify", proof, "--correction", folder, "--log", "--db", db)
    (row,) = rows_of(db)
    assert_as_promised(row, PROMISED)
