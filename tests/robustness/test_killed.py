"""A run that ends before its time, at any change that it makes: nothing lost, nothing half there.

The process is killed just before its n-th change to the file system, whatever library asks for it
(`support/faults.c`): a file opened to be written, written to, brought to the disk, a name given,
changed or taken away, a folder made or removed.
"""

from __future__ import annotations

import re
import shutil
import signal
from dataclasses import dataclass
from pathlib import Path

import pytest
from support.commands import ADDING, COMMANDS, MORE, command
from support.ended import Left, again, groups, left_in, lying_about
from support.families import family
from support.runner import COPY, COUNT, FULL, Done

ONE_BY_ONE = ("apply to several",)
"""Results that have nothing to do with each other."""

NEXT = {
    "log rescue": ["log", "rescue", "--db", "log-1.sqlite3", "-o", "second.sqlite3"],
    "log status": command("log status", 2),
}
"""What runs next, where the same would be refused, or has nothing to do, for having been done."""

ENDED = (signal.SIGTERM, signal.SIGHUP, signal.SIGINT)
LONG = ("verify", "verify, logged", "chart", "settings", "drying", "correct", "correct, logged",
        "correct for a profile")  # fmt: skip
FEW, MANY = 8, 40
"""So many changes are tried by a run each."""

OF_THE_PAGE = "request"
"""It answers in this process: no signal but SIGKILL means anything to it."""

EVERY = {**COMMANDS, **MORE, **ADDING}
TRIED = ("json",)
"""Tried every time; the others take minutes together."""


def forms(name: str) -> tuple[list[str], list[str] | None]:
    """The command to be ended; and the one before it, whose results it replaces."""
    if name in ADDING:
        return ADDING[name].split(), None
    return command(name, 2), command(name, 1)


def is_whole(size: int, wanted: int) -> bool:
    """Whether a file is as long as it is to be; a moment in it is not always the same."""
    return abs(size - wanted) <= 64


@dataclass(frozen=True)
class Begun:
    """A folder before a run, what it holds then and afterwards, and how the run ends if it is let.

    Attributes
    ----------
    copies
        The folder as it is before each change that the run makes: what a kill there leaves.
    """

    start: Path
    before: Left
    after: Left
    copies: list[Path]
    done: Done


@pytest.fixture
def begun(name, breaker, more, tmp_path):
    words, first = forms(name)
    if first is not None:
        assert breaker.run(*first, cwd=more).code in (0, 1)
    (more / "mine.txt").write_text("not the program's", encoding="utf-8")
    start = shutil.copytree(more, tmp_path / "start")
    (tmp_path / "copies").mkdir()
    before = left_in(more)
    done = breaker.run(*words, cwd=more, kill=COUNT, by=COPY)
    assert done.code in (0, 1), done
    after = left_in(more)
    assert after != before
    assert not lying_about(more, before, after)
    return Begun(start, before, after, sorted((tmp_path / "copies").iterdir()), done)


def whole(name: str, folder, before, after, by: object) -> bool:
    """Hold what is there against both results; say whether all of it is new."""
    now = left_in(folder)
    differing = groups(before, after, name in ONE_BY_ONE)
    kept = [path for path in before.files if not any(path in one for one in differing.values())]
    assert {path: now.files.get(path) for path in kept} == {
        path: before.files[path] for path in kept
    }, by
    new = []
    for together, paths in differing.items():
        changed = {now.files.get(path) != before.files.get(path) for path in paths}
        assert len(changed) == 1, (by, together, changed)
        new += changed
        for path in paths if changed == {True} else ():
            there, wanted = now.files.get(path), after.files.get(path)
            assert (there is None) == (wanted is None), (by, path)
            assert there is None or is_whole(len(there), len(wanted)), (by, path)
    for path in before.logs.keys() | after.logs.keys():
        held, old, made = (one.logs.get(path) for one in (now, before, after))
        assert held in (old, made), (by, path, held)
        new += [held == made] if old != made else []
    return all(new)


@pytest.mark.parametrize("name", family(EVERY, (*TRIED, "log add")))
def test_all_is_old_or_all_is_new_wherever_it_is_killed(name, breaker, more, begun) -> None:
    """What it leaves lying about, the next run there clears away, whatever that makes."""
    words, first = forms(name)
    before, after, put_right = begun.before, begun.after, 0
    seen = set()
    assert len(begun.copies) == begun.done.changes >= 1
    for copy in begun.copies:
        said = copy.name
        lying = lying_about(copy, before, after)
        if lying or not _sound(name, copy, before, after):
            # The same things half done are put right in the same way.
            shape = _shape(lying, copy, before)
            if shape in seen or (name in LONG and len(seen) == FEW):
                continue
            seen.add(shape)
            put_right += 1
            # In its own place: what is half done there tells it by that.
            again(copy, more)
            assert breaker.run(*NEXT.get(name, first or words), cwd=more).code in (0, 1, 2), said
            copy = more
        assert not lying_about(copy, before, after), (said, lying_about(copy, before, after))
        whole(name, copy, before, after, said)
    print(f"{name}: killed at {len(begun.copies)} changes, {put_right} put right by the next run")


def _shape(lying: list[str], folder: Path, before: Left) -> tuple[object, ...]:
    """What lies about, but for the numbers in its names, and which files are not as they were."""
    names = {re.sub(r"[0-9a-f]{8}", "*", path) for path in lying}
    now = left_in(folder).files
    return frozenset(names), *(now.get(path) == kept for path, kept in before.files.items())


def _sound(name, folder, before, after) -> bool:
    try:
        whole(name, folder, before, after, None)
    except AssertionError:
        return False
    return True


def spread(name: str, count: int) -> list[int]:
    """The changes that are tried: where a run of the command takes long, some of them."""
    most = min(count, FEW if name in LONG else MANY)
    return sorted({1 + round(k * (count - 1) / max(1, most - 1)) for k in range(most)})


@pytest.mark.parametrize("name", family(EVERY, TRIED))
def test_nothing_is_left_lying_about_where_it_is_asked_to_end(name, breaker, more, begun) -> None:
    words, _ = forms(name)
    if words[0] == OF_THE_PAGE:
        pytest.skip("it answers in this process, to which such a signal means nothing")
    before, after, ended = begun.before, begun.after, 0
    tried = spread(name, begun.done.changes)
    for change in tried:
        by = ENDED[change % len(ENDED)]
        again(begun.start, more)
        done = breaker.run(*words, cwd=more, kill=change, by=by)
        said = (change, by.name, done)
        ended += done.code != begun.done.code
        assert "Traceback" not in done.err, said
        assert not lying_about(more, before, after), (said, lying_about(more, before, after))
        whole(name, more, before, after, said)
    print(f"{name}: asked to end at {len(tried)} of {begun.done.changes} changes, {ended} did")


@pytest.mark.parametrize("name", family(EVERY, TRIED))
def test_a_disk_that_is_full_from_any_change_on(name, breaker, more, begun) -> None:
    """One message, nothing half there, nothing left lying about; or all done, where it was."""
    words, _ = forms(name)
    before, after, refused = begun.before, begun.after, 0
    again(begun.start, more)
    changes = breaker.run(*words, cwd=more, kill=COUNT, by=FULL).changes
    tried = spread(name, changes)
    for change in tried:
        again(begun.start, more)
        done = breaker.run(*words, cwd=more, kill=change, by=FULL)
        said = (change, done)
        assert not lying_about(more, before, after), (said, lying_about(more, before, after))
        done_all = whole(name, more, before, after, said)
        refused += done.code == 2
        if name in ONE_BY_ONE and not done_all:
            # Each that failed is named; the others are done.
            assert done.code == 1, said
            assert "Not corrected" in done.err, said
        else:
            assert_said(done, begun.done, done_all, said)
    print(f"{name}: full at {len(tried)} of {changes} changes that need space, {refused} refused")


def assert_said(done: Done, usual: Done, done_all: bool, said: object) -> None:
    """A run says in one message that it failed; else it did all that it was to do."""
    assert "Traceback" not in done.err, said
    if done.code == usual.code and done_all:
        return
    assert done.code == 2, said
    messages = [line for line in done.err.splitlines() if line.startswith("greyscale: ")]
    assert len(messages) == 1, said
    # SQLite says of a file that it cannot make only that.
    assert "space" in done.err or "cannot be written" in done.err, said
