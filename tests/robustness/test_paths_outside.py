"""Names and paths that stand in files lead nowhere: a command writes to what it was told, alone."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from support.commands import COMMANDS, QUICK, command
from support.corrections import correction_with, curve_against, printed, proof_of
from support.families import family
from support.logged import reading
from support.runner import Runner, snapshot

from greyscale.correction.folder import write_files
from greyscale.demo.printer import demo_printer
from greyscale.readings.iso28178 import write
from greyscale.records.add_reading import add_readings
from greyscale.records.adding import add_correction
from greyscale.records.exchange import export_folder, export_json
from greyscale.records.print_log import open_log

LEADING = ("../../outside", "/tmp/greyscale-outside")
WRITTEN = {
    "json": "result.json", "chart": "page.", "correct": "made/", "apply to TIFF": "print.tif",
    "apply to PNG": "print.png", "apply to JPEG": "print.jpg", "preview": "seen.png",
    "log export": "exported.json", "log show": "kept/",
}  # fmt: skip
"""What each command of `COMMANDS` is told to write; the others write to `out/`."""


def names(paths: list[str]) -> list[Any]:
    """As a test's parameters; one of 5000 letters is called by fewer."""
    return [pytest.param(path, id=path[:30]) for path in paths]


def _named(path: str, folder: Path) -> None:
    """Put the inputs of all commands there, with a path for each name in them."""
    device = np.repeat(np.linspace(0, 1, 11)[:, np.newaxis], 3, axis=1)
    ids = [f"{path}{i}" for i in range(11)]
    words = dict.fromkeys(("name", "printer", "paper", "settings", "instrument"), path)
    write(reading(1, a=1.0, **words), folder / "reading-1.txt")
    for number, paper in enumerate(("cotton rag", "baryta"), start=1):
        for hours in (1, 24):
            made = demo_printer(paper).measure(ids, device, hours=hours, seed=number)
            named = replace(made, **words, fields={"PRINT_CONDITIONS": path})
            write(replace(named, name=f"{path}{number}"), folder / f"{hours}h-{number}.txt")
    correction = correction_with(
        curve_against(), name=path, printer=path, paper=path, settings=path,
        follows=path, picture=path, remarks=(path,),
    )  # fmt: skip
    source = replace(correction.evidence.sources[0], name=path, source=path, paper=path)
    correction = replace(correction, evidence=replace(correction.evidence, sources=(source,)))
    (folder / "correction-1").mkdir()
    write_files(correction, folder / "correction-1", printed, lut_size=9)
    proof = proof_of(correction, name=path, printer=path, paper=path)
    write(proof, folder / "proof-1.txt")
    with open_log(folder / "log-1.sqlite3", write=True) as log:
        add_readings(log, folder / "reading-1.txt")


@pytest.fixture(scope="module", params=LEADING)
def inputs(request, _inputs: Path, tmp_path_factory) -> Path:
    folder: Path = tmp_path_factory.mktemp("paths") / "a" / "b" / "work"
    folder.mkdir(parents=True)
    _named(request.param, folder)
    shutil.copy(_inputs / "fog-1.tif", folder)
    return folder


@pytest.mark.parametrize("name", family(sorted(COMMANDS.keys() - {"chart", "lights"}), QUICK))
def test_a_command_writes_what_it_was_told(name: str, inputs: Path, runner: Runner) -> None:
    top = inputs.parents[1]
    before = snapshot(top)
    beyond = {path for path in Path("/tmp").iterdir() if "outside" in path.name}
    done = runner.run(*command(name, 1), cwd=inputs)
    assert done.code == 0, done.err
    after = snapshot(top)
    made = {path for path in after if path not in before}
    told = f"a/b/work/{WRITTEN.get(name, 'out/')}".removeprefix("a/")
    assert made
    assert [path for path in sorted(made) if not path.startswith(told)] == []
    # SQLite's own files come and go beside a log that is read.
    changed = {path for path in before if after.get(path) != before[path]}
    assert [path for path in changed if "sqlite3-" not in path] == []
    assert {path for path in Path("/tmp").iterdir() if "outside" in path.name} == beyond
    for path in made:
        (top / path).unlink()


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """A print log with a reading and a correction, in a folder within folders."""
    folder = tmp_path / "a" / "b"
    folder.mkdir(parents=True)
    write(reading(1), folder / "reading.txt")
    (folder / "made").mkdir()
    write_files(correction_with(curve_against()), folder / "made", printed, lut_size=9)
    with open_log(folder / "log.sqlite3", write=True) as opened:
        add_readings(opened, folder / "reading.txt")
        add_correction(opened, folder / "made")
    return folder / "log.sqlite3"


def _asked(runner: Runner, folder: Path, *arguments: str) -> set[str]:
    """Run a command; give the new files anywhere above, as paths from the top."""
    top = folder.parents[1]
    before = snapshot(top)
    done = runner.run(*arguments, cwd=folder)
    # 1: an entry is damaged, and the others were gone on with.
    assert done.code in (0, 1, 2), done.err
    assert "Traceback" not in done.err
    return {path for path in snapshot(top) if path not in before and "sqlite3-" not in path}


@pytest.mark.parametrize("path", names([*LEADING, "..\\..\\outside", "..", "a\0b", "x" * 5000]))
@pytest.mark.parametrize("column", ["name", "sha256"])
def test_a_doctored_log(column: str, path: str, log: Path, runner: Runner) -> None:
    """A database whose names of kept files, or digests, are paths: shown, and exported."""
    with closing(sqlite3.connect(log)) as connection, connection:
        if column == "name":
            # A correction has several files: all of one name would not be of one entry.
            connection.execute(
                "UPDATE entry_files SET name = ? WHERE role = 'reading' OR name LIKE '%.csv'",
                (path,),
            )
        else:
            digest = connection.execute("SELECT sha256 FROM entry_files LIMIT 1").fetchone()[0]
            for table in ("files", "entry_files"):
                connection.execute(
                    f"UPDATE {table} SET sha256 = ? WHERE sha256 = ?", (path, digest)
                )
    for number in ("1", "2"):
        made = _asked(runner, log.parent, "log", "show", number, "--db", log.name, "-o", "kept")
        assert [one for one in made if not one.startswith("a/b/kept/")] == []
    made = _asked(runner, log.parent, "log", "export", "--db", log.name, "-o", "exported")
    assert [one for one in made if not one.startswith("a/b/exported")] == []


@pytest.mark.parametrize("path", names([*LEADING, "..", "a\0b", "x" * 5000, ""]))
@pytest.mark.parametrize("whole", [True, False], ids=["one file", "a folder"])
def test_a_doctored_export(path: str, whole: bool, log: Path, runner: Runner) -> None:
    """Names and places of files in an export: imported, then shown."""
    out = log.parent / ("exported.json" if whole else "exported")
    with open_log(log) as opened:
        (export_json if whole else export_folder)(opened, out)
    document = out if whole else out / "print-log.json"
    data = json.loads(document.read_text(encoding="utf-8"))
    for entry in data["entries"]:
        for kept in entry["files"][:1]:
            kept["name"] = path
    if not whole:
        data["files"][0]["path"] = path
    document.write_text(json.dumps(data), encoding="utf-8")
    # What another folder holds must not come in either.
    made = _asked(runner, log.parent, "log", "import", str(out), "--db", "new.sqlite3")
    assert made <= {"a/b/new.sqlite3"}
    for number in ("1", "2"):
        made = _asked(
            runner, log.parent, "log", "show", number, "--db", "new.sqlite3", "-o", "kept"
        )
        assert [one for one in made if not one.startswith("a/b/kept/")] == []


def test_an_export_takes_in_no_file_from_elsewhere(log: Path, runner: Runner) -> None:
    """A place outside the folder, with the right digest: what is there is not read."""
    out = log.parent / "exported"
    with open_log(log) as opened:
        export_folder(opened, out)
    document = out / "print-log.json"
    data = json.loads(document.read_text(encoding="utf-8"))
    kept = next(out / one["path"] for one in data["files"] if one["name"] == "reading.txt")
    elsewhere = log.parents[1] / "secret.txt"
    kept.rename(elsewhere)
    for place in (str(elsewhere), "../../secret.txt", "files/../../../secret.txt"):
        for one in data["files"]:
            if one["name"] == "reading.txt":
                one["path"] = place
        document.write_text(json.dumps(data), encoding="utf-8")
        done = runner.run("log", "import", out, "--db", "new.sqlite3", cwd=log.parent)
        assert done.code == 2
        assert "secret.txt: there is no such file" in done.err
