"""A run that ends before its time, at any change that it makes: nothing lost, nothing half there.

The process ends just before its n-th change to the file system, whatever library asks for it
(`support/faults.c`): a file opened to be written, written to, brought to the disk, a name given,
changed or taken away, a folder made or removed. It is killed, or asked to end, or finds the disk
full from there on; each at every change (`support/twins.py`).
"""

from __future__ import annotations

import random
import re
import shutil
import signal
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from inspect import getsource
from pathlib import Path
from typing import Any

import pytest
from support.commands import ADDING, COMMANDS, MORE, command
from support.ended import Left, again, groups, left_in, lying_about
from support.families import family
from support.runner import Done, Runner
from support.twins import FULL, Look, can_be_made

from greyscale.cli.contents import Contents
from greyscale.cli.outputs import WRITES
from greyscale.page.app import VIEWS

ONE_BY_ONE = ("apply to several", "completion")
"""Results that have nothing to do with each other."""

NEXT = {
    "log rescue": ["log", "rescue", "--db", "log-1.sqlite3", "-o", "second.sqlite3"],
    "log status": command("log status", 2),
    "upload": ["request", "refused.http"],
    **{
        name: [*ADDING[name].split(), "--replace"]
        for name in ("correct, logged", "drying, logged", "demo, the first")
    },
}
"""What runs next, where the same would be refused, file a second one, or has nothing to do."""

ENDED = (signal.SIGTERM, signal.SIGHUP, signal.SIGINT)
LONG = (
    "demo", "demo, the first", "verify", "verify, both", "verify, logged", "chart", "settings",
    "settings, both", "drying", "drying, logged", "correct", "correct, logged",
    "correct for a profile",
)  # fmt: skip
FEW = 8
"""Of so many kinds of what a kill leaves, the next run is tried, where it takes long."""

MOMENTS = 50

OF_THE_PAGE = "request"
"""It answers in this process: no signal but SIGKILL means anything to it."""

WRITING = {*WRITES, "--pdf", "--log", "--db"}
"""Options by which something is written, or may be."""

WRITES_NOTHING = ("/surround", "/work/{number:int}/cancel")
"""Requests that change what is shown, or what works."""

EVERY = {**COMMANDS, **MORE, **ADDING}
TRIED = ("json", "log add")
"""Tried every time; the others take minutes together."""


def forms(name: str) -> tuple[list[str], list[str] | None]:
    """The command to be ended; and the one before it, whose results it replaces."""
    if name in ADDING:
        return ADDING[name].split(), None
    return command(name, 2), command(name, 1)


def test_every_command_that_writes_is_tried() -> None:
    """By every option that names what it writes, or adds to it."""

    def of(commands: Mapping[str, Any], *before: str) -> Iterator[tuple[str, str]]:
        for name, one in commands.items():
            if hasattr(one, "commands"):
                yield from of(one.commands, *before, name)
            for option in {each for parameter in one.params for each in parameter.opts}:
                if option in WRITING:
                    yield " ".join((*before, name)), option

    said = [" ".join(command) for name in EVERY for command in (forms(name)[0],)]
    untried = [
        (name, option)
        for name, option in of(Contents(name="greyscale").commands)
        if not any(one.startswith(f"{name} ") and f" {option} " in f"{one} " for one in said)
    ]
    assert not untried


def test_every_request_that_writes_is_tried(more) -> None:
    """But those that begin a command, which is tried by itself."""
    asked = []
    for words in EVERY.values():
        if words.startswith(OF_THE_PAGE):
            request = more / words.format(n=1).split()[1]
            asked.append(request.read_text(encoding="utf-8").split()[1])
    for route in (one for view in VIEWS for one in view.ROUTES if "POST" in one.methods):
        if route.path not in WRITES_NOTHING and "begin(" not in getsource(route.endpoint):
            assert any(route.path_regex.match(path) for path in asked), route.path


def is_whole(size: int, wanted: int) -> bool:
    """Whether a file is as long as it is to be; a moment in it is not always the same."""
    return abs(size - wanted) <= 64


def whole(name: str, now: Left, before: Left, after: Left, by: object) -> bool:
    """Hold what is there against both results; say whether all of it is new."""
    differing = groups(before, after, name in ONE_BY_ONE)
    kept = before.files.keys() - {path for one in differing.values() for path in one}
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
            assert there is None or is_whole(there[1], wanted[1]), (by, path)
    for path in before.logs.keys() | after.logs.keys():
        held, old, made = (one.logs.get(path) for one in (now, before, after))
        assert held in (old, made), (by, path, held)
        new += [held == made] if old != made else []
    return all(new)


def is_sound(name: str, now: Left, before: Left, after: Left) -> bool:
    """Say whether all is old or new already, and nothing lies about."""
    try:
        whole(name, now, before, after, None)
    except AssertionError:
        return False
    return not lying_about(now, before, after)


@dataclass(frozen=True)
class Case:
    """A command that ends before its time, and what it is held against.

    Attributes
    ----------
    place, start
        Where it runs, and a copy of that as it was before.
    before, after
        What is there before a run, and after one that is let.
    done
        How that one ends.
    counts
        How often what was seen.
    """

    name: str
    runner: Runner
    place: Path
    start: Path
    before: Left
    after: Left
    done: Done
    counts: Counter[str] = field(default_factory=Counter)

    def ended(self, change: int, by: int, **how: Any) -> Look:
        """Run it from the start, and end it."""
        again(self.start, self.place)
        ended = self.runner.run(*forms(self.name)[0], cwd=self.place, by=by, **how)
        return Look(change, by, left_in(self.place), ended.code, ended.err)

    def hold(self, look: Look, kept: Path | None = None) -> None:
        """Hold what a run has left, and said, against both results.

        What SIGKILL leaves lying about, the next run there clears away, whatever that makes.

        Parameters
        ----------
        kept
            Where that lies, if not in the run's place; one that is not there is like an earlier.
        """
        said = (look.change, look.by, look.code, look.err)
        now, (words, first) = look.left, forms(self.name)
        self.counts["full" if look.by == FULL else signal.Signals(look.by).name] += 1
        if look.by == signal.SIGKILL and not is_sound(self.name, now, self.before, self.after):
            if kept is not None:
                few = self.name in LONG and self.counts["put right"] >= FEW
                if few or not kept.exists():
                    return
                # In its own place, as the same files: what is half done there tells it by that.
                shutil.rmtree(self.place)
                kept.rename(self.place)
            self.counts["put right"] += 1
            following = NEXT.get(self.name, first or words)
            assert self.runner.run(*following, cwd=self.place).code in (0, 1, 2), said
            now = left_in(self.place)
        lying = lying_about(now, self.before, self.after)
        assert not lying, (said, lying)
        done_all = whole(self.name, now, self.before, self.after, said)
        assert "Traceback" not in look.err, said
        if look.by in ENDED:
            assert done_all or look.code in (130, 128 + look.by, -look.by), said
            self.counts["ended"] += look.code != self.done.code
        elif look.by == FULL and self.name == "apply to several" and not done_all:
            # Each that failed is named; the others are done.
            assert look.code == 1, said
            assert "Not corrected" in look.err, said
        elif look.by == FULL and not (look.code == self.done.code and done_all):
            self.counts["refused"] += 1
            assert look.code == 2, said
            messages = [line for line in look.err.splitlines() if line.startswith("greyscale: ")]
            assert len(messages) == 1, said
            # SQLite says of a file that it cannot make only that.
            assert re.search("space|can(not)? be written", look.err), said


@pytest.fixture
def begin(name, breaker, more, tmp_path):
    """Prepare the folder of a command, and return what runs it to its end and tells what it did."""
    _, first = forms(name)
    if first is not None:
        assert breaker.run(*first, cwd=more).code in (0, 1)
    (more / "mine.txt").write_text("not the program's", encoding="utf-8")
    start, before = shutil.copytree(more, tmp_path / "start"), left_in(more)

    def run(**how: Any) -> Case:
        done = breaker.run(*forms(name)[0], cwd=more, **how)
        assert done.code in (0, 1), done
        after = left_in(more)
        assert is_sound(name, after, before, after)
        assert after != before
        return Case(name, breaker, more, start, before, after, done)

    return run


@pytest.mark.parametrize("name", family(EVERY, TRIED))
def test_all_is_old_or_all_is_new_wherever_it_ends(name, begin) -> None:
    if not can_be_made():
        pytest.skip("no process may have mounts of its own here")
    of_the_page = forms(name)[0][0] == OF_THE_PAGE
    ways = (signal.SIGKILL,) if of_the_page else (signal.SIGKILL, *ENDED, FULL)
    case = begin(ways=ways)
    looks = case.runner.looks(case.place)
    assert max(look.change for look in looks) == case.done.changes >= 1
    for look in looks:
        case.hold(look, case.place.with_name("copies") / str(look.change))
    # Some end without a twin, at changes far from each other.
    real = ways[:2] if name in LONG else ways
    changes = [(1 + k * (case.done.changes - 1) // len(real), by) for k, by in enumerate(real)]
    if of_the_page:
        changes += [(change + 1, FULL) for change in range(case.done.changes)]
    for change, by in changes:
        case.hold(case.ended(change, by, kill=change))
    print(f"{name}: {case.done.changes} changes, {dict(case.counts)}")


@pytest.mark.exhaustive
@pytest.mark.parametrize("name", [one for one in EVERY if forms(one)[0][0] != OF_THE_PAGE])
def test_all_is_old_or_all_is_new_whenever_it_ends(name, begin) -> None:
    """By the clock, at moments drawn evenly over its time, in the midst of whatever it does."""
    begun = time.monotonic()
    case = begin()
    seconds = time.monotonic() - begun
    drawn = random.Random(name)
    for moment in range(MOMENTS):
        by = (signal.SIGKILL, signal.SIGTERM)[moment % 2]
        case.hold(case.ended(moment, by, after=drawn.uniform(0, seconds)))
    print(f"{name}: {MOMENTS} moments in {seconds:.2f} s, {dict(case.counts)}")
