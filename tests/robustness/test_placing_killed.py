"""Files that belong together, killed at each change that places them: all old, or all new.

Where a folder changes places with another, at once; where files are placed one by one, after the
next run there, whatever it writes.
"""

from __future__ import annotations

import json
import os
import signal
import tempfile
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from support.families import family
from support.runner import kill_at, snapshot

from greyscale.base import files, folders
from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.base.folders import files_together, whole_folder

NAMES = ("a.txt", "figures/b.txt", "z.txt")
OTHERS = {"figures/mine.png": b"drawn", "notes/deep/x.txt": b"x"}


def _write(how: Callable[[Path], AbstractContextManager[Path]], folder: Path, what: str) -> None:
    with how(folder) as fresh:
        for name in [*NAMES, f"only-{what}.txt"]:
            write_whole(fresh / name, what)


def _killed(work: Callable[[], None], change: int) -> bool:
    """Do the work in a copy of this process that is killed at a change; say whether it was."""
    child = os.fork()
    if child == 0:
        kill_at(change)
        try:
            work()
        finally:
            os._exit(0)
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    assert status in (0, -signal.SIGKILL)
    return status != 0


def _own(name: Path) -> AbstractContextManager[Path]:
    """As a correction is written: what is ours and not made anew goes."""
    return whole_folder(name, {"a.txt", "figures", "z.txt", "only-old.txt", "only-new.txt"})


@pytest.mark.parametrize("step", family([1, 3], [3]))
@pytest.mark.parametrize(
    ("how", "exchanged"), [(files_together, True), (_own, True), (_own, False)]
)
def test_all_is_old_or_all_is_new(
    how, exchanged: bool, step: int, tmp_path: Path, monkeypatch
) -> None:
    if not exchanged:
        monkeypatch.setattr(folders, "exchange", lambda one, other: False)
    at_once = exchanged and how is not files_together
    folder, found = tmp_path / "out", set()
    for change in range(1, 200, step):
        _write(how, folder, "old")
        (folder / "only-new.txt").unlink(missing_ok=True)
        for name, content in OTHERS.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(content)
        killed = _killed(lambda: _write(how, folder, "new"), change)
        if not at_once:
            # Whatever the next run writes there, it puts things right first.
            with (files_together if how is files_together else whole_folder)(folder) as fresh:
                (fresh / "next.txt").touch()
        now = snapshot(folder, hidden=False)
        what = now["a.txt"].decode()
        assert {now[name] for name in NAMES} == {what.encode()}, change
        assert now[f"only-{what}.txt"] == what.encode(), change
        assert what == "new" or "only-new.txt" not in now, change
        assert "only-old.txt" not in now or what == "old" or how is not _own
        found.add(what)
        if how is not _own:
            assert {name: now.get(name) for name in OTHERS} == OTHERS
        assert now["notes/deep/x.txt"] == b"x"
        if not killed:
            break
    assert change > 20
    assert found == {"old", "new"}
    assert not [*tmp_path.rglob(".*")]


def test_what_changed_since_a_kill_is_somebodys_and_stays(tmp_path: Path) -> None:
    _write(files_together, tmp_path, "old")

    def die_at_the_end() -> None:
        rename = os.rename

        def die(source: Path, target: Path) -> None:
            if Path(target).name == "done":
                os.kill(os.getpid(), signal.SIGKILL)
            rename(source, target)

        os.rename = die
        _write(files_together, tmp_path, "new")

    assert _killed(die_at_the_end, 0)
    assert (tmp_path / "only-new.txt").read_text() == "new"
    (tmp_path / "a.txt").write_text("a person's")
    with files_together(tmp_path) as fresh:
        (fresh / "next.txt").touch()
    assert (tmp_path / "a.txt").read_text() == "a person's"
    assert {(tmp_path / name).read_text() for name in NAMES[1:]} == {"old"}
    assert not (tmp_path / "only-new.txt").exists()


def test_a_journal_from_elsewhere_leads_nowhere(tmp_path: Path) -> None:
    """In a folder that somebody sent: names in it that lead out of the folder are left alone."""
    (tmp_path / "victim.txt").write_text("mine")
    undo = tmp_path / "out" / ".greyscale-new-x-abcdefgh" / "undo"
    (undo / "old").mkdir(parents=True)
    status = (tmp_path / "victim.txt").stat()
    mark = [status.st_ino, status.st_size, status.st_mtime_ns]
    names = {"../victim.txt": mark, str(tmp_path / "victim.txt"): mark, "../new.txt": None}
    (undo / "journal.json").write_text(json.dumps({"folder": "../..", "files": names}))
    (undo / "new.txt").write_text("planted")
    before = snapshot(tmp_path, hidden=False)
    _write(files_together, tmp_path / "out", "new")
    after = snapshot(tmp_path, hidden=False)
    assert {name: after[name] for name in before} == before
    assert not (tmp_path / "new.txt").exists()


def test_what_cannot_be_placed_changes_nothing(tmp_path: Path, monkeypatch) -> None:
    """A target that cannot be replaced, the last of several, whatever the reason."""
    _write(files_together, tmp_path, "old")
    before = snapshot(tmp_path)
    replace = os.replace

    def refuse(source: Path, target: Path) -> None:
        if Path(target).name == "only-new.txt":
            raise PermissionError(1, "Operation not permitted")
        replace(source, target)

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(BadInput, match="not permitted"):
        _write(files_together, tmp_path, "new")
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize("how", [files_together, whole_folder])
def test_a_folder_in_a_files_place_is_refused_before_anything_changes(how, tmp_path: Path) -> None:
    _write(how, tmp_path / "out", "old")
    (tmp_path / "out" / "only-new.txt").mkdir()
    before = snapshot(tmp_path)
    with pytest.raises(BadInput, match="is a folder"):
        _write(how, tmp_path / "out", "new")
    assert snapshot(tmp_path) == before


def test_the_working_folder_stays_the_same_folder(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    before = tmp_path.stat().st_ino
    _write(whole_folder, Path(), "new")
    assert (Path("a.txt").read_text(), tmp_path.stat().st_ino) == ("new", before)


def test_a_foreign_lock_is_not_waited_for_without_end(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(files, "PATIENCE", 0.05)
    handle = files.lock(tmp_path)
    for write in (
        lambda: _write(files_together, tmp_path, "new"),
        lambda: _write(whole_folder, tmp_path / "out", "new"),
        lambda: (write_whole(tmp_path / "one.txt", "1"), write_whole(tmp_path / "one.txt", "2")),
    ):
        with pytest.raises(BadInput, match="has kept this folder locked") as found:
            write()
        assert str(tmp_path) in str(found.value)
    assert handle is not None
    os.close(handle)


def test_a_lock_on_the_folder_for_all_programs_holds_nobody_up(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(files, "PATIENCE", 0.05)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    handle = files.lock(tmp_path)
    with folders.temporary("greyscale-upload-") as made:
        (made / "reading.txt").write_text("1")
    assert not made.exists()
    assert handle is not None
    os.close(handle)


def test_a_stranger_who_takes_the_name_first_gets_nothing(tmp_path: Path, monkeypatch) -> None:
    """In a folder for all, a name that can be guessed may be a link to elsewhere."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (tmp_path / f"greyscale-{os.getuid()}").symlink_to(elsewhere)
    with folders.temporary("greyscale-log-") as made:
        assert made.parent == tmp_path
    assert not list(elsewhere.iterdir())
