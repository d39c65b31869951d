"""A run that is killed, at any change that it makes: nothing is lost, nothing is half-written.

The process is killed by the system (SIGKILL) just before its n-th change to the file system: a file
opened to be written, a link, a name changed, a folder made or removed.
"""

from __future__ import annotations

import shutil
import signal
from collections.abc import Iterable

import pytest
from support.commands import command
from support.families import family
from support.runner import COUNT, snapshot

KILLED = -signal.SIGKILL
OF_SQLITE = ("-wal", "-shm")


def plain(folder) -> dict[str, bytes]:
    """Give all files that a person sees, but what SQLite keeps beside a database."""
    files = snapshot(folder, hidden=False)
    return {path: data for path, data in files.items() if not path.endswith(OF_SQLITE)}


def tidy(folder) -> None:
    """Remove what a killed run left, so that the next makes the same changes in the same order."""
    for path in folder.rglob(".*"):
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink()


def results(name: str, runner, work, folder) -> tuple[dict[str, bytes], dict[str, bytes], int]:
    """Give what is there after the first form of a command, and after the second on top of it.

    The second runs in a copy; how many changes it makes comes third.
    """
    assert runner.run(*command(name, 1), cwd=work).code == 0
    (work / "mine.txt").write_text("not the program's", encoding="utf-8")
    first = plain(work)
    copy = shutil.copytree(work, folder)
    done = runner.run(*command(name, 2), cwd=copy, kill=COUNT)
    assert done.code == 0
    assert plain(copy) != first
    return first, plain(copy), done.changes


@pytest.mark.parametrize(
    "name",
    family(["json", "chart", "apply to TIFF", "apply to PNG", "log show"], ["apply to TIFF"]),
)
def test_each_file_is_the_old_or_the_new_one(name, runner, work, tmp_path) -> None:
    first, second, changes = results(name, runner, work, tmp_path / "copy")
    assert changes >= 3
    for change in range(1, changes + 1):
        done = runner.run(*command(name, 2), cwd=work, kill=change)
        if done.code == 0:
            # Folders that a killed run made need not be made again.
            break
        assert done.code == KILLED
        now = plain(work)
        assert first.keys() <= now.keys() <= second.keys()
        for path, data in now.items():
            assert data in (first.get(path), second[path]), (change, path)
    # What killed runs left behind is gone after one that was not.
    assert runner.run(*command(name, 2), cwd=work).code == 0
    assert plain(work) == second
    assert not [path for path in snapshot(work) if "/." in f"/{path}"]


def around_the_end(changes: int, more: Iterable[int]) -> list[int]:
    """The changes at the end put things in place; those before make them."""
    return sorted({1, *(changes - k for k in more)})


@pytest.mark.exhaustive
def test_a_report_is_wholly_the_old_or_the_new_one(runner, work, tmp_path) -> None:
    first, second, changes = results("analyse", runner, work, tmp_path / "copy")
    files = sum(first[path] != second[path] for path in first)
    assert files >= 10
    found = []
    for change in around_the_end(changes, (files + 9, files, files // 2, 1)):
        done = runner.run(*command("analyse", 2), cwd=work, kill=change)
        assert done.code == KILLED
        now = plain(work)
        assert now.keys() == first.keys()
        assert all(data in (first[path], second[path]) for path, data in now.items())
        found.append(sum(now[path] != first[path] for path in first))
        assert found[-1] in (0, files), change
        if found[-1]:
            assert runner.run(*command("analyse", 1), cwd=work).code == 0
        tidy(work)
    assert found[:2] == [0, 0]
    assert found[-1] == files
    assert runner.run(*command("analyse", 2), cwd=work).code == 0
    assert snapshot(work) == second


@pytest.mark.exhaustive
def test_a_correction_is_wholly_the_old_or_the_new_one(runner, work, tmp_path) -> None:
    """Its folder changes in one step; what others have put into it is there before and after."""
    (work / "made" / "notes").mkdir(parents=True)
    assert runner.run(*command("correct", 1), cwd=tmp_path / "work").code == 2
    shutil.rmtree(work / "made")
    assert runner.run(*command("correct", 1), cwd=work).code == 0
    (work / "made" / "notes").mkdir()
    (work / "made" / "notes" / "mine.txt").write_text("not the program's", encoding="utf-8")
    first, second, changes = results("correct", runner, work, tmp_path / "copy")
    # The moment of a run stands in some files; the curve tells runs of the two readings apart.
    old, new = first["made/curve.csv"], second["made/curve.csv"]
    found = []
    for change in around_the_end(changes, (40, 25, 20, 16, 1)):
        done = runner.run(*command("correct", 2), cwd=work, kill=change)
        assert done.code == KILLED
        now = plain(work)
        assert now.keys() == first.keys()
        assert now["made/notes/mine.txt"] == b"not the program's"
        name = b"reading-1" if now["made/curve.csv"] == old else b"reading-2"
        assert now["made/curve.csv"] in (old, new)
        for path in ("correction.json", "correction-1d.cube", "correction.clf", "report.html"):
            assert name in now[f"made/{path}"], (change, path)
        found.append(name)
        if name == b"reading-2":
            assert runner.run(*command("correct", 1), cwd=work).code == 0
        tidy(work)
    assert found[0] == b"reading-1"
    assert found[-1] == b"reading-2"
    assert runner.run(*command("correct", 2), cwd=work).code == 0
    assert snapshot(work).keys() == second.keys()


def test_a_log_has_an_entry_or_has_it_not(runner, work) -> None:
    words = ["log", "add", "24h-1.txt", "--db", "log-1.sqlite3"]
    changes = runner.run(*words, cwd=shutil.copytree(work, work / "copy"), kill=COUNT).changes
    assert changes >= 1
    for change in range(1, changes + 1):
        assert runner.run(*words, cwd=work, kill=change).code == KILLED
        listed = runner.run("log", "list", "--db", "log-1.sqlite3", cwd=work)
        assert listed.code == 0
        assert listed.out.rstrip().endswith(("1 entry.", "2 entries."))
    assert runner.run(*words, cwd=work).code == 0
    assert "2 entries" in runner.run("log", "list", "--db", "log-1.sqlite3", cwd=work).out
