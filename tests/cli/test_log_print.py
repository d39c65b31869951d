"""`greyscale log print` as a person uses it: an edition, its strips, and charts that dry."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import tifffile
from support.corrections import correction_with, curve_against, proof_of
from support.invoked import said
from support.logged import correction_folder, reading_file

from greyscale.base.errors import BadInput
from greyscale.base.files import sha256_of
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import Layout, write_layout

NAME = 'Harbour light, "première"'


run = partial(said, COLUMNS="160")


@pytest.fixture
def picture(tmp_path) -> Path:
    path = tmp_path / "lighthouse.tif"
    path.write_bytes(b"II*\x00 a picture")
    return path


@pytest.fixture
def printed(tmp_path, db, picture):
    """Records a copy, its strip read with so much noise and so much lighter."""
    folder = correction_folder(tmp_path / "harbour-light")

    def record(copy: str, lighter: float = 0.0, seed: int = 1):
        strip = proof_of(correction_with(curve_against(points=65)), sd=0.0)
        noise = np.random.default_rng(seed).normal(0.0, 0.05, strip.lab.shape)
        path = tmp_path / f"strip-{copy.replace('/', '-')}.txt"
        moved = strip.lab + noise + np.array([lighter, 0.0, 0.0])
        write(proof_of(correction_with(curve_against(points=65)), lab=moved), path)
        return run(
            "log", "print", picture, "--title", "Lighthouse", "--copy", copy, "--correction",
            folder, "--batch", "spring", "--strip", path, "--db", db,
        )  # fmt: skip

    return record


def test_an_edition_is_kept_and_its_prints_are_held_against_the_first(printed, db, picture):
    first = printed("1/25")
    assert "Edition: copy 1 (entry 3) of 25. Promise: kept, as far as chance" in first
    assert "allow; it matches the promise within ΔE00 0." in first
    assert "Match:" not in first
    assert "Match: matches copy 1 within ΔE00 0." in printed("4/25", seed=2)
    other = printed("5/25", lighter=3.0, seed=3)
    assert "Edition: copies 1 (entry 3), 4 (entry 5) and 5 (entry 7) of 25." in other
    assert "Match: differs from copy 1 most at level" in other
    assert "(L* +3." in other or "(L* +2.9" in other
    shown = run("log", "show", 7, "--db", db)
    assert "Copy 5 of 25" in shown
    assert f"Picture lighthouse.tif, {sha256_of(picture)[:16]}" in shown
    assert "Batch spring" in shown
    assert "Match differs from copy 1" in shown
    listed = run("log", "list", "--prints", "--db", db)
    assert "Lighthouse, 5/25" in listed
    assert listed.endswith("3 of 7 entries.")
    assert "Strip of entry 3" in run("log", "show", 2, "--db", db)


def test_the_overview_counts_the_promises_that_strips_keep(printed, db, tmp_path):
    """As `log show` says of each; none is offered as a proof, and one verified counts once."""

    def row():
        (found,) = json.loads(run("log", "status", "--db", db, "--json", "-"))["rows"]
        return found

    shifts = {"1/25": 0.0, "2/25": 8.0, "3/25": -6.0, "4/25": 0.0}
    said = [printed(copy, lighter, seed) for seed, (copy, lighter) in enumerate(shifts.items())]
    kept = ["Promise: kept" in one for one in said]
    assert kept == [True, False, False, True]
    assert (row()["promises"], row()["promises_kept"]) == (4, 2)
    assert row()["step"] == "print a proof"
    assert "2 of 4" in run("log", "status", "--db", db)
    run("log", "export", "-o", tmp_path / "log.json", "--db", db)
    db = tmp_path / "other.sqlite3"
    run("log", "import", tmp_path / "log.json", "--db", db)
    assert (row()["promises"], row()["promises_kept"]) == (4, 2)
    strip = tmp_path / "strip-1-25.txt"
    run("verify", strip, "--correction", tmp_path / "harbour-light", "--log", "--db", db)
    assert (row()["promises"], row()["promises_kept"]) == (4, 2)
    assert row()["correction"]["proof"]["promise_kept"] is True


def test_what_the_picture_or_the_strip_says_need_not_be_said(tmp_path, db):
    """What went through a correction says so, and its strip's layout does."""
    folder = correction_folder(tmp_path / "harbour-light")
    fog = tmp_path / "fog.tif"
    tifffile.imwrite(fog, np.linspace(0, 65535, 400 * 200).astype(np.uint16).reshape(200, 400))
    sent = ("apply", folder, fog, "--encoding", "lstar", "-o", tmp_path / "sent.tif")
    run(*sent)
    record = ("log", "print", tmp_path / "sent.tif", "--paper", "cotton rag", "--db", db)
    with pytest.raises(BadInput, match=r"gone through the correction 'Harbour.*not in this log"):
        run(*record)
    run("log", "add", folder, "--db", db)
    run(*record)
    assert "Through correction 1" in run("log", "show", 2, "--db", db)
    strip = replace(proof_of(correction_with(curve_against(points=65))), sent_through=NAME)
    write(strip, tmp_path / "strip.txt")
    said = run("log", "print", fog, "--strip", tmp_path / "strip.txt", "--db", db)
    assert "Promise: " in said


def test_it_comes_out_and_in_again(printed, db, tmp_path):
    printed("1/25")
    run("log", "export", "-o", tmp_path / "log.json", "--db", db)
    other = tmp_path / "other.sqlite3"
    assert "3 entries added" in run("log", "import", tmp_path / "log.json", "--db", other)
    assert "0 entries added, 3" in run("log", "import", tmp_path / "log.json", "--db", other)
    ours, theirs = (
        json.loads(run("log", "list", "--prints", "--db", one, "--json", "-"))["entries"]
        for one in (db, other)
    )
    assert ours[0]["print"]["copy"] == 1
    assert ours == theirs


def test_a_copy_is_there_once_and_an_edition_has_one_size(printed, db, picture, tmp_path):
    printed("4/25")
    again = ("log", "print", picture, "--title", "lighthouse", "--db", db)
    said = run(*again, "--copy", "4/25", "--note", "signed")
    assert "was in the print log already; now note 'signed'" in said
    with pytest.raises(BadInput, match=r"has 25 copies .*, not 30"):
        run(*again, "--copy", "5/30")
    with pytest.raises(BadInput, match="with batch 'spring', not 'autumn'"):
        run(*again, "--copy", "4/25", "--batch", "autumn")
    before = run("log", "show", 3, "--db", db)
    for option, value, differs in (
        ("--correction", "none", "with correction 'entry 1', not 'none'"),
        ("--paper", "baryta", "with paper 'cotton rag', not 'baryta'"),
    ):
        with pytest.raises(BadInput, match=differs):
            run(*again, "--copy", "4/25", option, value)
    assert run("log", "show", 3, "--db", db) == before
    other = tmp_path / "other.tif"
    other.write_bytes(b"another")
    with pytest.raises(BadInput, match="of another file"):
        run("log", "print", other, "--title", "Lighthouse", "--copy", "4/25", "--db", db)
    with pytest.raises(BadInput, match=r"paper is 'baryta', but the correction .* is for 'cotton"):
        run(*again, "--copy", "6/25", "--paper", "baryta", "--correction", "1")
    for copy in ("26/25", "0/25", "four", "4"):
        with pytest.raises(BadInput, match="copy"):
            run(*again, "--copy", copy)


class TestChart:
    """A chart that was printed and not measured yet."""

    @pytest.fixture
    def chart(self, tmp_path) -> Path:
        layout = Layout("start", ("1",), ("A1",), np.zeros((1, 3)))
        write_layout(layout, tmp_path / "start.txt")
        (tmp_path / "start-1.tif").write_bytes(b"II*\x00")
        return tmp_path / "start-1.tif"

    def row(self, db):
        return json.loads(run("log", "status", "--db", db, "--json", "-"))["rows"][0]

    def test_waits_as_long_as_common_practice_says_and_then_is_measured(self, chart, db, tmp_path):
        now = datetime.now().replace(second=0, microsecond=0)
        record = ("log", "print", chart, "--paper", "rag", "--db", db, "--at")
        run(*record, f"{now - timedelta(hours=2):%Y-%m-%d %H:%M}")
        row = self.row(db)
        assert row["step"] == "wait"
        assert row["not_before"] == (now + timedelta(hours=22)).isoformat()
        assert "(24 h by common practice" in row["next"]
        reading = reading_file(tmp_path, 1, paper="rag", printer=None, created=now)
        run("log", "add", reading, "--correction", "none", "--db", db)
        assert self.row(db)["step"] == "nothing"

    @pytest.mark.parametrize("stated", [(), ("--paper", "rag"), ("--paper", "kozo")])
    def test_is_measured_by_a_reading_that_states_more(self, chart, db, tmp_path, stated):
        printed = datetime.now().replace(microsecond=0) - timedelta(hours=2)
        said = run("log", "print", chart, *stated, "--at", f"{printed:%Y-%m-%d %H:%M}", "--db", db)
        without = "printer" if stated else "printer and paper"
        assert f"Not stated: {without}. 'log status' has this chart in a row of its own" in said
        earlier = reading_file(tmp_path, 1, paper="rag", created=printed - timedelta(hours=1))
        run("log", "add", earlier, "--correction", "none", "--db", db)
        data = json.loads(run("log", "status", "--db", db, "--json", "-"))
        assert {row["step"] for row in data["rows"]} == {"nothing", "wait"}
        reading = reading_file(tmp_path, 2, paper="rag", created=printed + timedelta(hours=1))
        run("log", "add", reading, "--correction", "none", "--db", db)
        data = json.loads(run("log", "status", "--db", db, "--json", "-"))
        waits = [row["paper"] for row in data["rows"] if row["step"] == "wait"]
        assert waits == (["kozo"] if "kozo" in stated else [])
        assert len(data["rows"]) == 1 + len(waits)

    def test_is_measured_when_its_paper_is_dry(self, chart, db, tmp_path):
        """The drying is made up: what is still to come falls to a third every two hours."""
        now = datetime.now().replace(second=0, microsecond=0)
        hours = (0.2, 1, 2, 4, 8, 24, 48)
        files = [
            reading_file(tmp_path, 10 + i, L=2.5 * np.exp(-after / 2), noise=0.02)
            for i, after in enumerate(hours)
        ]
        words = ("--hours", ",".join(map(str, hours)), "--paper", "rag", "--log", "--db", db)
        assert "dry after" in run("drying", *files, *words)
        printed = now - timedelta(hours=12)
        run(
            "log", "print", chart, "--paper", "rag", "--at", f"{printed:%Y-%m-%d %H:%M}", "--db", db
        )
        row = self.row(db)
        assert row["step"] == "measure"
        dry = (datetime.fromisoformat(row["not_before"]) - printed).total_seconds() / 3600
        # 2 ln(2.5 / 0.3) is 4.2 h; ΔE00 of a lighter mid-tone is about its ΔL*.
        assert 3.0 < dry < 6.0
        assert "this paper's own drying" in row["next"]

    def test_sent_through_a_correction_says_which(self, chart, db, tmp_path):
        write_layout(
            Layout(
                "proof", ("1",), ("A1",), np.zeros((1, 3)), fields={"CHART_THROUGH": NAME}
            ),
            tmp_path / "start.txt",
        )  # fmt: skip
        with pytest.raises(BadInput, match=r"sent through .* not in this log"):
            run("log", "print", chart, "--db", db)
        run("log", "add", correction_folder(tmp_path / "sea", settings=None), "--db", db)
        run("log", "print", chart, "--at", "2026-03-06 10:00", "--db", db)
        row = self.row(db)
        assert (row["step"], row["paper"]) == ("measure", "cotton rag")
        assert "--correction 1 " in row["command"]
