"""A run that is killed, at any change that it makes: nothing is lost, nothing is half-written.

The process is killed by the system (SIGKILL) just before its n-th change to the file system: a file
opened to be written, a link, a name changed, a folder made or removed.
"""

from __future__ import annotations

import shutil
import signal

import pytest
from support.commands import COMMANDS, command
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


ONE_BY_ONE = ("chart", "log show")
"""What is placed file by file: the next run there puts right what a kill left half done."""

ENDED = (signal.SIGTERM, signal.SIGHUP, signal.SIGINT)


@pytest.mark.parametrize("name", family(COMMANDS, ["json"]))
def test_all_is_old_or_all_is_new_whenever_it_ends(name, runner, work, tmp_path) -> None:
    """Killed at each change, and asked to end there; nothing is left lying about."""
    first, second, changes = results(name, runner, work, tmp_path / "copy")
    differ = [path for path in second if first.get(path) != second[path]]
    begun = shutil.copytree(work, tmp_path / "begun")
    assert changes >= 3
    kills = 0
    for change in range(1, changes + 1):
        for by in (signal.SIGKILL, ENDED[change % len(ENDED)]):
            shutil.rmtree(work)
            shutil.copytree(begun, work)
            done = runner.run(*command(name, 2), cwd=work, kill=change, by=by)
            kills += done.code != 0
            killed = by == signal.SIGKILL
            if killed and name in ONE_BY_ONE:
                assert runner.run(*command(name, 1), cwd=work).code == 0
                assert plain(work).keys() == first.keys(), change
                assert all(plain(work)[path] == first[path] for path in differ), change
            now = plain(work)
            assert {path: data for path, data in now.items() if path not in differ} == {
                path: data for path, data in first.items() if path not in differ
            }, (change, by)
            changed = {now.get(path) != first.get(path) for path in differ}
            assert len(changed) == 1, (change, by, changed)
            if killed and change % 5 == 0:
                assert runner.run(*command(name, 1), cwd=work).code == 0
            if not killed or name in ONE_BY_ONE or change % 5 == 0:
                left = [path for path in work.rglob("*") if path.name.startswith(".")]
                assert not left, (change, by, left)
    print(f"{name}: {changes} changes, {kills} runs ended early")


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
