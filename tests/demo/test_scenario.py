"""The demo does the whole job in a folder, and every command it names does the same again."""

import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from greyscale.cli.app import app
from greyscale.demo.printers import demo_printer
from greyscale.demo.scenario import STEPS, run
from greyscale.demo.steps.charting import FOLLOW_UP_READING
from greyscale.demo.steps.checking import CHECK
from greyscale.demo.steps.printing import FIRST_READING, MISREAD_STRIP
from greyscale.demo.workshop import READING
from greyscale.errors import BadInput
from greyscale.readings.formats import read

REPOSITORY = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = tmp_path_factory.mktemp("job")
    return folder, run(folder)


def test_every_step_tells_and_writes_what_it_says(job):
    folder, tellings = job
    assert len(tellings) == len(STEPS)
    for step, told in zip(STEPS, tellings, strict=True):
        assert step.title
        assert told.text.endswith((".", ")", ":"))
        for name in told.files:
            assert (folder / name).stat().st_size > 0, name


def test_the_misread_strip_is_named_and_put_right(job):
    folder, tellings = job
    checked = tellings[[step.title for step in STEPS].index(CHECK.title)]
    assert any(f"strip {MISREAD_STRIP}" in detail for detail in checked.details)
    true = demo_printer().lab(read(folder / READING).device)
    as_taken = np.abs(read(folder / FIRST_READING).lab - true).max(axis=1)
    repaired = np.abs(read(folder / READING).lab - true).max(axis=1)
    assert as_taken.max() > 10
    # Largest of 3 x 147 draws of noise of sd 0.15, and what a day of drying leaves.
    assert repaired.max() < 0.75


def test_the_follow_up_agrees_with_the_first_reading_where_they_share_tones(job):
    folder, _ = job
    first, second = (read(folder / name) for name in (READING, FOLLOW_UP_READING))
    for level in (0.0, 1.0):
        lab = [one.lab[one.on_axis & (abs(one.level - level) < 1e-6)] for one in (first, second)]
        assert lab[0].mean(axis=0) == pytest.approx(lab[1].mean(axis=0), abs=0.6)


def test_every_command_works_as_typed_in_the_folder(job, tmp_path, monkeypatch):
    folder, tellings = job
    copy = tmp_path / "again"
    shutil.copytree(folder, copy)
    monkeypatch.chdir(copy)
    for told in tellings:
        for command in told.commands:
            program, *arguments = shlex.split(command)
            assert program == "greyscale"
            result = CliRunner().invoke(app, arguments)
            found_something = arguments[0] == "check" and result.exit_code == 1
            assert result.exit_code == 0 or found_something, f"{command}\n{result.output}"


def test_the_command_tells_the_story_and_where_the_report_lies(tmp_path):
    # From elsewhere, with nothing of the repository but the package.
    environment = {**os.environ, "COLUMNS": "300"}
    result = subprocess.run(
        [sys.executable, "-m", "greyscale", "demo", "-o", "made"],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert "lighthouses and harbours" in result.stdout
    for number, step in enumerate(STEPS, start=1):
        assert f"{number}  {step.title}" in result.stdout
    report = Path("made") / "analysis" / "report.html"
    assert str(report) in result.stdout
    assert (tmp_path / report).exists()


def test_two_runs_write_the_same_readings(job, tmp_path):
    folder, _ = job
    run(tmp_path, steps=STEPS[:1])
    for path in tmp_path.glob("*.txt"):
        assert path.read_bytes() == (folder / path.name).read_bytes()


def test_a_folder_that_cannot_be_is_one_clear_message(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(BadInput, match="cannot be written"):
        run(tmp_path / "file" / "demo")


def test_nothing_of_the_demo_reads_the_repository():
    for path in (REPOSITORY / "greyscale" / "demo").rglob("*.py"):
        assert "__file__" not in path.read_text(encoding="utf-8")
