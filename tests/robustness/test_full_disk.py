"""A disk that is full, or cannot be written: what was there stays, and nothing half-written comes.

The space is really limited: by a limit on the size of files, which the system keeps, and by small
file systems where the one who runs the tests may make them.
"""

from __future__ import annotations

import subprocess
from contextlib import suppress
from pathlib import Path

import pytest
from support.commands import COMMANDS, QUICK, command
from support.families import family
from support.runner import snapshot

KNOWN = {"-wal", "-shm"}
"""Ends of the names of files that SQLite keeps beside a database."""


def without_sqlites_own(files: dict[str, bytes]) -> dict[str, bytes]:
    return {name: data for name, data in files.items() if name[-4:] not in KNOWN}


@pytest.fixture
def small_disk(tmp_path):
    """A file system of 4 MB in memory."""
    place = tmp_path / "small"
    place.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(place)],
        capture_output=True,
        text=True,
    )
    if made.returncode:
        pytest.skip(f"no file system can be mounted here: {made.stderr.strip()}")
    yield place
    subprocess.run(["umount", "--lazy", str(place)], check=True)


def refused(done) -> str:
    assert done.code == 2, done
    assert "Traceback" not in done.err
    assert done.err.startswith("greyscale: ")
    return done.err


@pytest.mark.parametrize("name", family(COMMANDS, QUICK))
def test_files_that_may_not_grow(name, runner, work) -> None:
    inputs = snapshot(work)
    assert runner.run(*command(name, 1), cwd=work).code == 0
    first = without_sqlites_own(snapshot(work))
    largest = max(len(data) for path, data in first.items() if path not in inputs)
    done = runner.run(*command(name, 2), cwd=work, most=largest // 4)
    said = refused(done)
    assert "cannot be written" in said
    assert ".greyscale-new" not in said
    assert without_sqlites_own(snapshot(work)) == first


@pytest.mark.parametrize(
    "name", family(["analyse", "chart", "correct", "apply to TIFF", "log export"], QUICK)
)
def test_a_disk_that_fills_up(name, runner, work, small_disk) -> None:
    words = [*command(name, 1)]
    out = words.index("-o") + 1
    words[out] = str(small_disk / words[out])
    assert runner.run(*words, cwd=work).code == 0
    first = snapshot(small_disk)
    needed = sum(map(len, first.values()))
    filler = small_disk / "others.bin"
    with filler.open("wb", buffering=0) as file, suppress(OSError):
        while file.write(b"x" * 4096):
            pass
    with filler.open("r+b") as file:
        file.truncate(max(0, filler.stat().st_size - needed // 2))
    before = snapshot(small_disk)
    # The other run has other results: the same ones would stand there already.
    words = [*command(name, 2)]
    words[out] = str(small_disk / words[out])
    refused(runner.run(*words, cwd=work))
    assert snapshot(small_disk) == before
    # Once there is space again, all is as ever.
    filler.unlink()
    assert runner.run(*words, cwd=work).code == 0
    assert snapshot(small_disk).keys() == first.keys()


@pytest.mark.parametrize("name", ["lights", "chart", "correct", "analyse", "apply to TIFF", "json"])
def test_a_folder_that_cannot_be_written(name, runner, work, small_disk) -> None:
    words = [*command(name, 1)]
    out = words.index("-o" if "-o" in words else "--json") + 1
    words[out] = str(small_disk / words[out])
    assert runner.run(*words, cwd=work).code == 0
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    before = snapshot(small_disk)
    # The other run has other results: the same ones would stand there already.
    words = [*command(name, 2)]
    words[out] = str(small_disk / words[out])
    assert "ead-only" in refused(runner.run(*words, cwd=work))
    words[out] = str(small_disk / "new")
    assert "ead-only" in refused(runner.run(*words, cwd=work))
    assert snapshot(small_disk) == before


@pytest.mark.parametrize(
    "name", ["json", "drying", "chart", "correct", "apply to JPEG", "preview", "lights", "log show"]
)
def test_a_file_where_a_folder_should_be(name, runner, work) -> None:
    words = [*command(name, 1)]
    (work / "taken").write_text("a file", encoding="utf-8")
    out = words.index("-o" if "-o" in words else "--json") + 1
    words[out] = f"taken/{words[out]}"
    before = snapshot(work)
    refused(runner.run(*words, cwd=work))
    assert without_sqlites_own(snapshot(work)) == before


def test_a_log_keeps_what_it_had(runner, work) -> None:
    """The space that is left is too little for a reading, at every stage of adding it."""
    before = runner.run("log", "list", "--db", "log-1.sqlite3", cwd=work)
    assert before.code == 0
    size = Path(work / "log-1.sqlite3").stat().st_size
    ended = set()
    for most in (0, 512, 4096, size // 2, size, size + 4096, 2 * size):
        done = runner.run(
            "log", "add", "24h-1.txt", "--db", "log-1.sqlite3", cwd=work, most=most
        )  # fmt: skip
        ended.add(done.code)
        after = runner.run("log", "list", "--db", "log-1.sqlite3", cwd=work)
        assert after.code == 0
        if done.code:
            refused(done)
            assert after.out == before.out
    assert 2 in ended
