"""How long something takes against something else in the same run.

Times are processor times, user's and system's: what others do on the machine adds little to them.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass

MEASURE = """
import os, subprocess, sys
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, usage = os.wait4(process.pid, 0)
assert status == 0
print(usage.ru_maxrss)
"""


@dataclass(frozen=True)
class Ratio:
    """A line of the table.

    Attributes
    ----------
    what, against
        What was timed, and what in turn with it.
    ours, theirs
        Shortest times, seconds of processor time.
    limit
        The most that the ratio may be.
    """

    what: str
    against: str
    ours: float
    theirs: float
    limit: float

    @property
    def value(self) -> float:
        """Ours over theirs."""
        return self.ours / self.theirs


@dataclass(frozen=True)
class Memory:
    """The most memory that a process held at a time, and may hold; bytes."""

    what: str
    peak: int
    limit: int


RATIOS: list[Ratio] = []
MEMORIES: list[Memory] = []
"""What this run has found, for the table."""


def processor_time(work: Callable[[], object]) -> float:
    """Give the seconds that some work takes, in this process and in those that it starts."""
    start = _used()
    work()
    return _used() - start


def _used() -> float:
    spent = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(one.ru_utime + one.ru_stime for one in spent)


def hold_ratio(
    what: str,
    work: Callable[[], object],
    against: str,
    yardstick: Callable[[], object],
    limit: float,
    runs: int = 7,
) -> None:
    """Time two things in turn, so that a busy machine slows both; hold their ratio to a limit."""
    ours, theirs = [], []
    for _ in range(runs):
        ours.append(processor_time(work))
        theirs.append(processor_time(yardstick))
    found = Ratio(what, against, min(ours), min(theirs), limit)
    RATIOS.append(found)
    print(f"\n{what}: {found.value:.2f} x {against} (limit {limit:g})")
    assert found.value <= limit


def hold_memory(what: str, arguments: Sequence[str], limit: int) -> None:
    """Run a process; hold the most memory that it held at a time to a limit, bytes."""
    found = Memory(what, peak_memory(arguments), limit)
    MEMORIES.append(found)
    print(f"\n{what}: peak memory {found.peak / 2**20:.0f} MiB (limit {limit / 2**20:.0f})")
    assert found.peak <= limit


def process(arguments: Sequence[str]) -> Callable[[], object]:
    """Make a Python process of its own, start to end; bytecode is kept, as of what is installed."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}

    def run() -> None:
        subprocess.run(
            [sys.executable, *arguments],
            check=True,
            capture_output=True,
            stdin=subprocess.DEVNULL,
            env=kept,
        )

    return run


def peak_memory(arguments: Sequence[str]) -> int:
    """Run a Python process; give the most memory that it held, bytes.

    It is started by a small process of its own: what the starting one holds counts as well.
    """
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, sys.executable, *arguments],
        check=True,
        capture_output=True,
        text=True,
    )
    return int(done.stdout) * 1024
