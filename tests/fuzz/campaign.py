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

SILENCE = 120.0
"""Seconds without a word after which a process is taken to hang in what Python cannot stop."""

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
    process = subprocess.Popen(
        [sys.executable, "-m", "fuzz.worker", target.name]
        + [str(number) for number in (seed, first, count, seconds)],
        env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=_TESTS,
    )  # fmt: skip
    at = first - 1
    try:
        for told in _lines(process):
            if "done" in told:
                outcome.memory = max(outcome.memory, told["memory"])
                return int(told["done"])
            at = told["at"]
            outcome.slowest = max(outcome.slowest, told.get("took", 0.0))
            outcome.read += told.get("read", False)
            if "kind" in told:
                outcome.add(told["kind"], at, told["text"])
    finally:
        process.kill()
        _, errors = process.communicate()
    text = errors.decode("utf-8", "replace")[-2000:]
    outcome.add(f"the process ends ({process.returncode})", at, text)
    return at + 1


def _lines(process: subprocess.Popen[bytes]) -> Iterator[dict[str, Any]]:
    """Give what a process tells, until it ends or falls silent."""
    assert process.stdout is not None
    rest = b""
    with selectors.DefaultSelector() as waiting:
        waiting.register(process.stdout, selectors.EVENT_READ)
        while waiting.select(SILENCE):
            part = os.read(process.stdout.fileno(), 1 << 16)
            if not part:
                return
            *lines, rest = (rest + part).split(b"\n")
            yield from map(json.loads, lines)
