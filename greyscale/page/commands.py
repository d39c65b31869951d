"""Long work: each a command in a process of its own, which can be watched and cancelled.

The command is the one that a person would type in the paper's folder, so that the page can show
it, and leaves the same files. Whatever it holds in memory goes with its process.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from itertools import chain, count
from pathlib import Path

from greyscale.base.plain_text import as_typed
from greyscale.page.papers import LOG, Made, Measured, Paper, Sheet
from greyscale.page.state import evidence
from greyscale.readings.assemble import FROM_LAYOUT, LACKING

KEPT = 50
"""Jobs that are remembered."""


@dataclass(eq=False)
class Job:
    """A command at work, or done.

    Attributes
    ----------
    number
        From 1, in the order in which they were begun.
    arguments
        The command without the program's name.
    folder
        Where it runs: the names in it are those of files there.
    writes
        What it is to leave.
    code
        Its exit code; None while it works.
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
        self._numbers = count(1)
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


@dataclass(frozen=True)
class Run:
    """A command: what it does in a few words, its arguments, and what it leaves."""

    what: str
    arguments: tuple[str, ...]
    writes: Path


def chart(paper: Paper, page: str, busy: Collection[Path] = ()) -> Run:
    """A starting chart. Each has a seed of its own, so that a reading tells which it is of."""
    return _drawn(paper, "chart", ("--near-neutral",), page, busy)


def follow_up(paper: Paper, measured: Measured, page: str, busy: Collection[Path] = ()) -> Run:
    """A chart that goes where a reading leaves most open."""
    return _drawn(paper, "chart", ("--after", measured.name), page, busy)


def proof(paper: Paper, made: Made, page: str, busy: Collection[Path] = ()) -> Run:
    """A chart sent through a correction. Its order is not that of any starting chart."""
    return _drawn(paper, "proof", ("--near-neutral", "--through", made.path.name), page, busy, 1000)


def _drawn(
    paper: Paper, kind: str, options: tuple[str, ...], page: str, busy: Collection[Path],
    seeds_from: int = 0,
) -> Run:  # fmt: skip
    number, stem = _free(paper.folder, kind, ".txt", busy)
    asked = (*options, "--page", page, "--seed", str(seeds_from + number))
    return Run(f"Drawing a {kind}", ("chart", "-o", stem, *asked), paper.folder / f"{stem}.txt")


def repair(measured: Measured, sheet: Sheet | None, busy: Collection[Path] = ()) -> Run:
    """The reading with what can be put right put right."""
    return _repaired("Putting the reading right", "put-right", measured, sheet, busy)


def complete(measured: Measured, sheet: Sheet, busy: Collection[Path] = ()) -> Run:
    """The reading with the device values of its layout, and put right where that can be."""
    return _repaired("Completing the reading from its layout", "complete", measured, sheet, busy)


def _repaired(
    what: str, how: str, measured: Measured, sheet: Sheet | None, busy: Collection[Path]
) -> Run:
    folder = measured.path.parent
    stem = free_stem(folder, f"{measured.path.stem}-{how}", ".txt", busy)
    arguments = (*check(measured, sheet), "--repaired", f"{stem}.txt")
    return Run(what, arguments, folder / f"{stem}.txt")


def correct(
    paper: Paper, options: Iterable[tuple[str, str]], busy: Collection[Path] = (), name: str = ""
) -> Run:
    """A first correction, of all readings that may be joined.

    Parameters
    ----------
    options
        Options of `greyscale correct` and their values.
    name
        What to call it; else after the paper.
    """
    number, stem = _free(paper.folder, "correction", "", busy)
    taken = evidence(paper)
    names = [one.name for one in taken]
    layouts = (_layout((one,), paper.sheet_of(one)) for one in taken)
    layout = next(filter(None, layouts), ())
    asked = [part for name, value in options for part in (f"--{name}", value)]
    called = ("--name", name or f"{paper.name} {number}")
    arguments = ("correct", *names, *layout, *called, *asked, "-o", stem)
    return Run("Making the correction", arguments, paper.folder / stem)


def next_round(paper: Paper, measured: Measured, made: Made, busy: Collection[Path] = ()) -> Run:
    """The round after a proof."""
    _, stem = _free(paper.folder, "correction", "", busy)
    layout = _layout((measured,), paper.sheet_of(measured))
    arguments = ("correct", measured.name, *layout, "--previous", made.path.name, "-o", stem)
    return Run("Making the next round", arguments, paper.folder / stem)


def gather(root: Path) -> Run:
    """The print log of the whole folder, made of its files."""
    return Run("Making the print log", ("log", "gather", "."), root / LOG)


def check(measured: Measured, sheet: Sheet | None) -> tuple[str, ...]:
    """What says whether a reading is good."""
    return ("check", measured.name, *(() if sheet is None else ("--layout", sheet.path.name)))


def analyse(
    readings: Iterable[Measured],
    lights: Iterable[str],
    aim: str,
    neutral: str,
    sheet: Sheet | None = None,
) -> tuple[str, ...]:
    """What says the same as the tone scale; several readings are of one print."""
    named = [part for light in lights for part in ("--light", light)]
    chosen = (("--aim", aim, "lstar"), ("--neutral", neutral, "fading"))
    asked = [part for option, value, usual in chosen if value != usual for part in (option, value)]
    several = tuple(readings)
    names = (one.name for one in several)
    return ("analyse", *names, *_layout(several, sheet), *asked, *named)


def verify(measured: Measured, made: Made, sheet: Sheet | None = None) -> tuple[str, ...]:
    """What says whether a correction worked."""
    layout = _layout((measured,), sheet)
    return ("verify", measured.name, "--correction", made.path.name, *layout)


def _layout(readings: Iterable[Measured], sheet: Sheet | None) -> tuple[str, ...]:
    """The layout, where a reading has device values from there, or lacks patches of it."""
    lent = any(
        said.startswith((FROM_LAYOUT, LACKING)) for one in readings for said in one.reading.remarks
    )
    return ("--layout", sheet.path.name) if lent and sheet is not None else ()


def apply(made: Made, picture: Path, encoding: str, busy: Collection[Path] = ()) -> Run:
    """A picture through a correction, in its own format and under a name that says so."""
    folder, ending = picture.parent, picture.suffix
    stem = free_stem(folder, f"{picture.stem}-{made.path.name}", ending, busy)
    asked = ("--encoding", encoding) if encoding else ()
    arguments = ("apply", made.path.name, picture.name, *asked, "-o", f"{stem}{ending}")
    return Run("Correcting the picture", arguments, folder / f"{stem}{ending}")


def preview(
    measured: Measured, made: Made | None, picture: Path, light: str, encoding: str, cast: int
) -> tuple[str, ...]:
    """What shows the same picture."""
    options = (
        ("--correction", "" if made is None else made.path.name),
        ("--light", "" if light == "D50" else light),
        ("--encoding", encoding),
        ("--exaggerate", str(cast) if cast > 1 else ""),
    )
    asked = [part for option, value in options if value for part in (option, value)]
    target = f"{picture.stem}-preview.png"
    return ("preview", measured.name, picture.name, *asked, "-o", target)


def free_stem(folder: Path, stem: str, ending: str, busy: Collection[Path] = ()) -> str:
    """A name that nothing has yet: as given, else with the next free number."""
    names = chain([stem], (f"{stem}-{number}" for number in count(2)))
    return next(name for name in names if _is_free(folder / f"{name}{ending}", busy))


def _free(folder: Path, kind: str, ending: str, busy: Collection[Path]) -> tuple[int, str]:
    """The next free number of a kind, and the name with it; a chart's pages are beside it."""
    for number in count(1):
        path = folder / f"{kind}-{number}{ending}"
        beside = (path, path.with_suffix(".tif"), path.with_suffix(".pdf"))
        if all(_is_free(one, busy) for one in beside):
            break
    return number, f"{kind}-{number}"


def _is_free(path: Path, busy: Collection[Path]) -> bool:
    return path not in busy and not path.exists() and not path.is_symlink()
