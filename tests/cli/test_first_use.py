"""The first quarter of an hour: slips of the pen, other systems' consoles, quiet and loud."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from support.invoked import invoke as run

from greyscale.base.errors import BadInput, did_you_mean, near_path, no_such_file
from greyscale.cli.outputs import command_line
from greyscale.demo.printer import demo_printer
from greyscale.readings.iso28178 import write

UNICODE = "Möwe, 灯台 №2"


def process(*arguments, cwd: Path, **environment) -> subprocess.CompletedProcess[bytes]:
    """Run the program as a process of its own: only there are streams as they are for a user."""
    plain = {"PATH": os.environ["PATH"], "HOME": str(cwd), "LC_ALL": "C.UTF-8"}
    return subprocess.run(
        [sys.executable, "-m", "greyscale", *map(str, arguments)],
        capture_output=True, check=False, cwd=cwd, env={**plain, **environment},
    )  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A reading in a folder with blanks and other scripts' letters in its name."""
    here = tmp_path_factory.mktemp("work") / UNICODE
    here.mkdir()
    levels = np.linspace(0, 1, 9)
    reading = demo_printer("kozo").measure(
        [str(i) for i in range(9)], np.repeat(levels[:, None], 3, axis=1), name=UNICODE
    )
    write(reading, here / "kozo 1.txt")
    return here


@pytest.mark.parametrize(
    ("option", "slip", "meant"),
    [
        ("--aim", "lsatr", "lstar"),
        ("--scaling", "liner", "linear"),
        ("--neutral", "adaptin", "adapting"),
        ("--tolerance", "exibition", "exhibition"),
        ("--light", "LED-B33", "LED-B3"),
        ("--light", "kozo 2.txt", "kozo 1.txt"),
        ("--for-image", "kozo 2.txt", "kozo 1.txt"),
    ],
)
def test_a_slip_in_a_name_is_answered_by_the_nearest(folder, monkeypatch, option, slip, meant):
    monkeypatch.chdir(folder)
    with pytest.raises(BadInput) as refused:
        run("analyse", "kozo 1.txt", option, slip)
    assert meant in str(refused.value)


@pytest.mark.parametrize(
    ("arguments", "meant"),
    [
        (("analyze", "x.txt"), "analyse"),
        (("analyse", "x.txt", "--lihgt", "A"), "--light"),
        (("log", "ad", "x.txt"), "add"),
    ],
)
def test_a_slip_in_a_command_or_an_option_is_answered_by_the_nearest(arguments, meant):
    result = run(*arguments)
    assert result.exit_code == 2
    assert meant in result.output


@pytest.mark.parametrize("command", ["analyse", "check", "compare", "drying", "correct -o x"])
def test_a_wrong_path_is_answered_by_the_nearest_file_there(folder, command):
    with pytest.raises(BadInput) as refused:
        run(*command.split(), folder / "kozo1.txt")
    assert str(folder / "kozo 1.txt") in str(refused.value)


def test_a_wrong_folder_is_answered_by_the_nearest_folder(folder):
    wrong = folder.with_name("Möve, 灯台 №2")
    assert f"nor a folder {wrong}; did you mean {folder}?" in str(
        no_such_file(wrong / "kozo 1.txt")
    )


def test_what_is_nothing_like_it_is_not_offered(folder):
    assert near_path(folder / "zzzzzz.tif") is None
    assert did_you_mean("zzz", ["fading", "paper"]) == ""


def test_a_correction_that_is_not_there_is_answered_by_the_nearest(folder):
    (folder / "harbour-light").mkdir(exist_ok=True)
    with pytest.raises(BadInput, match=r"did you mean .*harbour-light"):
        run("verify", folder / "kozo 1.txt", "--correction", folder / "harbor-light")


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "cp437", "utf-8"])
def test_no_console_ends_it_in_an_error(folder, encoding):
    done = process("analyse", "kozo 1.txt", "-v", cwd=folder, PYTHONIOENCODING=encoding)
    assert done.returncode == 0, done.stderr
    text = done.stdout.decode(encoding)
    error = done.stderr.decode(encoding)
    assert "Traceback" not in error
    assert "kozo 1.txt: 9 patches" in error
    assert re.search(r"mean ΔCh \d" if encoding == "utf-8" else r"mean dCh \d", text)
    if encoding != "ascii":
        assert "Möwe" in text


def test_signs_that_a_console_lacks_keep_the_columns_in_line(folder):
    tables = [
        process("analyse", "kozo 1.txt", "-v", cwd=folder, PYTHONIOENCODING=encoding,
                COLUMNS="100")
        .stdout.decode(encoding).splitlines()
        for encoding in ("utf-8", "cp1252")
    ]  # fmt: skip
    rows = [[line for line in lines if re.match(r"[01]\.\d{3} ", line)] for lines in tables]
    assert len(rows[0]) == 9
    assert [len(line) for line in rows[0]] == [len(line) for line in rows[1]]


def test_without_a_terminal_there_is_no_colour_and_no_bar(folder):
    done = process("analyse", "kozo 1.txt", cwd=folder)
    assert b"\x1b" not in done.stdout + done.stderr
    assert done.stderr == b""


@pytest.mark.parametrize("columns", [80, 100])
def test_nothing_is_wider_than_the_console(folder, columns):
    done = process("analyse", "kozo 1.txt", cwd=folder, COLUMNS=str(columns))
    assert max(map(len, done.stdout.decode().splitlines())) <= columns


def test_quiet_says_nothing_and_writes_all(folder, tmp_path):
    result = run("analyse", folder / "kozo 1.txt", "--quiet", "-o", tmp_path / "out")
    assert result.output == ""
    assert (tmp_path / "out" / "report.html").is_file()


def test_quiet_still_gives_the_json_that_was_asked_for(folder):
    for arguments in (("-q", "--json", "-"), ("--json", "-", "-q")):
        result = run("analyse", folder / "kozo 1.txt", *arguments)
        assert json.loads(result.stdout)["schema"] == "greyscale/analysis/1"


def test_quiet_does_not_hide_a_mistake(folder):
    done = process("analyse", "kozo 9.txt", "-q", cwd=folder)
    assert done.returncode == 2
    assert b"there is no such file" in done.stderr
    assert done.stdout == b""


def test_verbose_says_what_is_read_and_written(folder, tmp_path, runner):
    done = runner.run("analyse", "kozo 1.txt", "-v", "-o", tmp_path / "out", cwd=folder)
    told = done.err.splitlines()
    assert told[0] == "greyscale: read kozo 1.txt: 9 patches"
    written = {Path(line.removeprefix("greyscale: wrote ")) for line in told[1:]}
    assert written == {path for path in (tmp_path / "out").rglob("*") if path.is_file()}


def test_a_pdf_is_written_when_it_is_asked_for(folder, tmp_path):
    run("analyse", folder / "kozo 1.txt", "--pdf", "-q", "-o", tmp_path)
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF-")


def test_a_pdf_without_a_folder_is_refused_before_the_work(folder):
    with pytest.raises(BadInput, match="add -o DIR"):
        run("compare", folder / "kozo 1.txt", folder / "no such file", "--pdf")


def test_the_command_in_a_report_can_be_pasted(monkeypatch):
    monkeypatch.setattr(sys, "argv", ["greyscale", "analyse", "kozo 1.txt"])
    assert command_line() == "greyscale analyse 'kozo 1.txt'"
    monkeypatch.setattr("greyscale.base.plain_text.os.name", "nt")
    assert command_line() == 'greyscale analyse "kozo 1.txt"'


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("greyscale ana", ["analyse"]),
        ("greyscale analyse x.txt --tole", ["--tolerance"]),
        ("greyscale analyse x.txt --neutral ", ["fading", "adapting", "paper", "absolute"]),
        ("greyscale analyse x.txt --light LED-B", ["LED-B1", "LED-B2", "LED-B3"]),
        ("greyscale correct x.txt --toning y", ["yellow-brown"]),
        ("greyscale log tr", ["trend"]),
    ],
)
def test_the_shell_completes_commands_options_and_names(tmp_path, words, expected):
    done = process(
        cwd=tmp_path, _GREYSCALE_COMPLETE="complete_bash", COMP_WORDS=words,
        COMP_CWORD=str(len(words.split(" ")) - 1),
    )  # fmt: skip
    offered = done.stdout.decode().splitlines()
    assert set(expected) <= set(offered), done
