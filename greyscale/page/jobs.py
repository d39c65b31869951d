"""Long work: each a command in a process of its own, which can be watched and cancelled.

The command is the one that a person would type in the paper's folder, so that the page can show
it, and leaves the same files. Whatever it holds in memory goes with its process.
"""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

from greyscale.base.plain_text import as_typed

KEPT = 50
"""Jobs that are remembered."""


@dataclass(eq=False)
class Job:
    """A command at work, or done.

    Attributes
    ----------
    number
        From 1, in the order in which they were begun.
    what
        What it does, in a few words.
    arguments
        The command without the program's name.
    folder
        Where it runs: the names in it are those of files there.
    writes
        What it is to leave.
    code
        Its exit code; None while it works.
    told
        What it said.
    """

    number: int
    what: str
    arguments: tuple[str, ...]
    folder: Path
    writes: Path
    started: float = field(default_factory=time.monotonic)
    seconds: float = 0.0
    code: int | None = None
    cancelled: bool = False
    told: str = ""
    done: threading.Event = field(default_factory=threading.Event)
    process: subprocess.Popen[str] | None = field(default=None, repr=False)

    @property
    def command(self) -> str:
        """The command as it can be pasted into a shell."""
        return as_typed(*self.arguments)

    @property
    def succeeded(self) -> bool:
        """Whether it left what it was to leave: `check` ends with 1 when it put right."""
        return self.done.is_set() and not self.cancelled and self.writes.exists()


class Jobs:
    """The commands of one run of the page; at most two work at a time."""

    def __init__(self) -> None:
        self._numbers = itertools.count(1)
        self._jobs: dict[int, Job] = {}
        self._lock = threading.Lock()
        self._free = threading.Semaphore(2)

    def begin(self, what: str, arguments: tuple[str, ...], folder: Path, writes: Path) -> Job:
        """Begin a command; one that is at the same work already is taken for it."""
        with self._lock:
            for job in self._jobs.values():
                if not job.done.is_set() and (job.folder, job.writes) == (folder, writes):
                    return job
            job = Job(next(self._numbers), what, arguments, folder, writes)
            self._jobs[job.number] = job
            for old in list(self._jobs.values())[:-KEPT]:
                if old.done.is_set():
                    del self._jobs[old.number]
        threading.Thread(target=self._run, args=(job,), daemon=True).start()
        return job

    def of(self, folder: Path) -> list[Job]:
        """The jobs of a folder, the latest first."""
        with self._lock:
            return [job for job in reversed(self._jobs.values()) if job.folder == folder]

    def numbered(self, number: int) -> Job | None:
        """A job by its number."""
        with self._lock:
            return self._jobs.get(number)

    def cancel(self, job: Job) -> None:
        """End a command; what it was making is cleared away by itself."""
        with self._lock:
            if not job.done.is_set():
                job.cancelled = True
                if job.process is not None:
                    job.process.terminate()

    def end(self) -> None:
        """End all that still work."""
        for job in list(self._jobs.values()):
            self.cancel(job)

    def _run(self, job: Job) -> None:
        with self._free:
            with self._lock:
                if not job.cancelled:
                    job.process = subprocess.Popen(
                        [sys.executable, "-P", "-m", "greyscale", *job.arguments],
                        cwd=job.folder,
                        stdin=subprocess.DEVNULL,
                        stdout=subprocess.PIPE,
                        stderr=subprocess.STDOUT,
                        text=True,
                        encoding="utf-8",
                        errors="replace",
                        env={**os.environ, "PYTHONIOENCODING": "utf-8", "COLUMNS": "100",
                             "NO_COLOR": "1"},
                    )  # fmt: skip
            if job.process is not None:
                job.told, _ = job.process.communicate()
                job.code = job.process.returncode
        job.seconds = time.monotonic() - job.started
        job.done.set()
