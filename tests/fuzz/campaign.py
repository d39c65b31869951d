"""Many inputs for one reader, in a process of its own with little memory, and what went wrong."""

from __future__ import annotations

import json
import os
import selectors
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fuzz.targets import Target
from fuzz.worker import AT, READ, SLOWEST, shared

HANGS = 20.0
"""Seconds of processor time over one input after which a process hangs in what Python cannot
stop; of waiting, so many times more: the machine may have other work."""

_TESTS = Path(__file__).resolve().parents[1]


@dataclass
class Outcome:
    """What happened.

    Attributes
    ----------
    target
        The reader's name.
    inputs, read
        How many files it was given, and how many of them it read; the others it refused.
    seconds
        All of them took.
    slowest
        The most processor time that one took, seconds.
    memory
        The most that the process held, bytes.
    failures
        By kind: the number of the first input that showed it, what happened, how often.
    """

    target: str
    inputs: int = 0
    read: int = 0
    seconds: float = 0.0
    slowest: float = 0.0
    memory: int = 0
    failures: dict[str, tuple[int, str, int]] = field(default_factory=dict)

    def add(self, kind: str, index: int, text: str) -> None:
        """Note a failure."""
        first, told, often = self.failures.get(kind, (index, text, 0))
        self.failures[kind] = first, told, often + 1


def campaign(target: Target, count: int, seed: int, seconds: float = 3600.0) -> Outcome:
    """Give a reader so many inputs, or as many as it reads in so many seconds.

    A process that dies over an input, or hangs, is a failure too; another takes up the rest.
    """
    outcome = Outcome(target.name)
    start = time.monotonic()
    first = 0
    while first < count and time.monotonic() - start < seconds:
        first = _go_on(target, seed, first, count, start + seconds - time.monotonic(), outcome)
    outcome.inputs = first
    outcome.seconds = time.monotonic() - start
    return outcome


def _go_on(
    target: Target, seed: int, first: int, count: int, seconds: float, outcome: Outcome
) -> int:
    """Let a process work; give the number of the input that comes next."""
    paths = os.pathsep.join([str(_TESTS), str(_TESTS.parent)])
    environment = {**os.environ, "PYTHONPATH": paths, "OPENBLAS_NUM_THREADS": "1"}
    handle = os.memfd_create("fuzz")
    os.truncate(handle, 24)
    now = shared(handle)
    process = subprocess.Popen(
        [sys.executable, "-m", "fuzz.worker", target.name]
        + [str(number) for number in (seed, first, count, seconds, handle)],
        env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=_TESTS,
        pass_fds=[handle],
    )  # fmt: skip
    try:
        for told in _lines(process, now):
            if "done" in told:
                outcome.memory = max(outcome.memory, told["memory"])
                return int(told["done"])
            outcome.add(told["kind"], told["at"], told["text"])
    finally:
        process.kill()
        _, errors = process.communicate()
        at = max(first, int(now[AT]))
        outcome.read += int(now[READ])
        outcome.slowest = max(outcome.slowest, now[SLOWEST])
        os.close(handle)
    text = errors.decode("utf-8", "replace")[-2000:]
    outcome.add(f"the process ends ({process.returncode})", at, text)
    return at + 1


def _processor(number: int) -> float:
    """Return the seconds of processor time that a process has used (`man 5 proc`)."""
    try:
        told = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")


def _lines(process: subprocess.Popen[bytes], now: memoryview) -> Iterator[dict[str, Any]]:
    """Give what a process tells, until it ends, or stays at one input."""
    assert process.stdout is not None
    rest, before, since, used = b"", -2.0, 0.0, 0.0
    with selectors.DefaultSelector() as waiting:
        waiting.register(process.stdout, selectors.EVENT_READ)
        while True:
            if not waiting.select(HANGS / 4):
                if now[AT] != before:
                    before, since, used = now[AT], time.monotonic(), _processor(process.pid)
                elif (
                    _processor(process.pid) - used > HANGS or time.monotonic() - since > 50 * HANGS
                ):
                    return
                continue
            part = os.read(process.stdout.fileno(), 1 << 16)
            if not part:
                return
            *lines, rest = (rest + part).split(b"\n")
            yield from map(json.loads, lines)
