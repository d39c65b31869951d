"""Links that lead in a circle, a working folder that is gone, no home: one message with a name."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from support.commands import COMMANDS, command
from support.families import family
from support.runner import Runner, snapshot


@pytest.mark.parametrize("name", family(COMMANDS, ("json", "apply to TIFF", "log show", "lights")))
def test_links_in_a_circle_are_refused_by_name(name: str, runner: Runner, work: Path) -> None:
    """As each output, as each input, and as a folder on the way to one."""
    (work / "circle").symlink_to("circle")
    words = command(name, 1)
    before = snapshot(work)
    for index, word in enumerate(words):
        is_output = words[index - 1] in ("-o", "--json")
        if not is_output and not os.path.exists(work / word):
            continue
        for odd in ("circle", f"circle/{word}"):
            done = runner.run(*words[:index], odd, *words[index + 1 :], cwd=work)
            if name == "chart" and odd == "circle" and done.code == 0:
                # It writes circle.tif, circle.pdf and circle.txt, which no link is in the way of.
                for made in work.glob("circle.*"):
                    made.unlink()
                continue
            assert done.code == 2, (odd, index, done)
            assert "circle" in done.err, (odd, index, done)
            assert snapshot(work) == before


def greyscale(*words: str, folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", f"import os; os.chdir({str(folder)!r})\n"
         "if os.environ.get('GONE'): os.rmdir(os.getcwd())\n"
         "import sys; from greyscale.cli.app import main; main()", *words],
        env={**os.environ, **environment}, capture_output=True, text=True,
    )  # fmt: skip


@pytest.mark.parametrize("words", ["lights D50 -o out", "chart -o page", "log list --db x.db"])
def test_a_working_folder_that_is_gone_is_named(words: str, tmp_path: Path) -> None:
    (tmp_path / "gone").mkdir()
    where = str(tmp_path / "gone")
    done = greyscale(*words.split(), folder=tmp_path / "gone", GONE="1", PWD=where)
    assert done.returncode == 2
    assert done.stderr.startswith(f"greyscale: {where}: the working folder is not there")


def test_without_a_home_nothing_is_said_of_figures(tmp_path: Path) -> None:
    """Matplotlib says three sentences where it cannot write to a person's home."""
    (tmp_path / "file").touch()
    places = {name: str(tmp_path / "file" / "x") for name in ("HOME", "XDG_CONFIG_HOME")}
    before = set(Path(tempfile.gettempdir()).glob("matplotlib-*"))
    done = greyscale("lights", "D50", "-o", "out", folder=tmp_path, **places, MPLCONFIGDIR="")
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "out" / "lights.png").is_file()
    assert set(Path(tempfile.gettempdir()).glob("matplotlib-*")) <= before


@pytest.mark.parametrize(
    ("closed", "words", "code"),
    [
        (">&-", "lights D50 -o out", 0),
        ("2>&-", "lights no-light", 2),
        ("<&-", "read chart.txt -o typed.txt", 0),
        ("<&- >&- 2>&-", "analyse 24h-1.txt -o out", 0),
    ],
)
def test_streams_may_be_closed(closed: str, words: str, code: int, more: Path) -> None:
    line = [sys.executable, "-m", "greyscale", *words.split()]
    ends = subprocess.run(
        ["sh", "-c", f'exec "$@" {closed}', "sh", *line],
        cwd=more, capture_output=True, text=True,
    )  # fmt: skip
    assert (ends.returncode, ends.stderr) == (code, "")
    assert ("out" in words) == (more / "out").is_dir()


def test_a_window_without_width_is_as_none(tmp_path: Path) -> None:
    narrow, none = (
        greyscale("lights", "D50", folder=tmp_path, COLUMNS=width) for width in ("0", "")
    )
    assert (narrow.returncode, narrow.stdout) == (0, none.stdout)
