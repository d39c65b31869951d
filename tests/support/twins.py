"""A run that is looked at before each change to a file: what would be left if it ended there?

For each way to end, a twin of the process (a fork) goes on from there, in a copy of the folder
that it alone sees in the folder's place, with copies of what it has open; the run itself never
notices. So every change of a run of any length is tried in one run.
"""

from __future__ import annotations

import ctypes
import fcntl
import hashlib
import os
import pickle
import re
import shutil
import signal
import sys
import traceback
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import Pipe
from pathlib import Path
from typing import Any

from support.ended import LOG, Left, left_in

FULL = -1
"""In place of a signal: the disk is full at that change, and at all that follow."""

_PATIENCE = 100
"""Seconds in which whoever is to end has ended."""

_APART, _PRIVATE, _BIND = 0x20000, 0x44000, 0x1000  # CLONE_NEWNS; MS_REC | MS_PRIVATE; MS_BIND
_SHARED_AT = 0x11  # MAP_SHARED | MAP_FIXED

ASK = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_long, ctypes.c_int)
"""What `faults.c` calls before each change: its number, whether it needs space."""


@dataclass(frozen=True)
class Look:
    """What is left where a run ended before its time.

    Attributes
    ----------
    change
        The change before which it did, from 1.
    by
        The signal, or `FULL`.
    code, err
        How it ended, and what it said.
    """

    change: int
    by: int
    left: Left
    code: int = -signal.SIGKILL
    err: str = ""


class Twins:
    """The twins of a run, and in a twin: what it is.

    Parameters
    ----------
    folder
        Where the run works. Beside it, in `copies`, one of each kind of what SIGKILL leaves is
        kept, by its change.
    ways
        In which it is ended before each change: signals, and `FULL`.
    """

    def __init__(self, folder: Path, ways: Sequence[int]) -> None:
        self.folder, self.ways = folder, ways
        self.looks: list[Look] = []
        self._seen: set[str] = set()
        self._tells: int | None = None
        # What is there is known to every twin.
        left_in(folder)
        self._aside, asked = Pipe()
        run = os.getpid()
        if os.fork() == 0:
            self._aside.close()
            _stand_aside(asked, run, folder)
        asked.close()

    def ask(self, change: int, needs_space: int) -> int:
        """What is to become of this process at a change, for `faults.c`."""
        twins = []
        try:
            for way in self.ways:
                copy = self.folder.with_name(f"twin{way}")
                if way == signal.SIGKILL:
                    left = self._copied(copy, look=True)
                    if (shape := _shape(left)) not in self._seen:
                        self._seen.add(shape)
                        copy.rename(self.folder.with_name("copies") / str(change))
                    self.looks.append(Look(change, way, left))
                elif way != FULL or needs_space:
                    self._copied(copy)
                    twin = self._twin(copy)
                    if twin is None:
                        return way
                    twins.append((way, *twin))
                    continue
                shutil.rmtree(copy, ignore_errors=True)
            for way, child, told, said in twins:
                with open(told, "rb") as file, open(said, errors="replace") as words:
                    result, err = file.read(), words.read()
                status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
                if status or not result:
                    raise AssertionError(
                        f"change {change}, {way}: the twin ended by {status}: {err}"
                    )
                self.looks.append(Look(change, way, *pickle.loads(result), err))
                shutil.rmtree(self.folder.with_name(f"twin{way}"))
        except BaseException:
            traceback.print_exc()
            sys.stderr.flush()
            os._exit(71)
        return 0

    def _copied(self, copy: Path, *, look: bool = False) -> Any:
        self._aside.send((copy, look))
        left = self._aside.recv()
        if isinstance(left, str):
            raise AssertionError(left)
        return left

    def _twin(self, copy: Path) -> tuple[int, int, int] | None:
        """Make a twin; return its id, where it will tell what it left, and what it says.

        In the twin: None.
        """
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        told, tells = os.pipe()
        said, says = os.pipe()
        child = os.fork()
        if child == 0:
            signal.alarm(_PATIENCE)
            self._tells = tells
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            os.dup2(says, 2)
            os.close(says)
            _move(copy, self.folder)
            return None
        os.close(tells)
        os.close(says)
        return child, told, said

    def end(self, code: int) -> None:
        """Tell what was left, in a twin; which ends here."""
        if self._tells is None:
            return
        status = 72
        try:
            told = pickle.dumps((left_in(self.folder), code))
            with open(self._tells, "wb") as file:
                file.write(told)
            status = 0
        except BaseException:
            traceback.print_exc()
            sys.stderr.flush()
        finally:
            os._exit(status)


def _stand_aside(asked: Any, run: int, folder: Path) -> None:
    """Copy a run's folder and look at it, as often as asked, in a process that is none of it.

    What SQLite holds and locks in the run's own would be let go by another look at it there.
    """
    with suppress(EOFError):
        while True:
            copy, look = asked.recv()
            try:
                _copied(run, folder, copy)
                asked.send(left_in(copy) if look else None)
            except BaseException:
                asked.send(traceback.format_exc())
    os._exit(0)


def _shape(left: Left) -> str:
    """What kind of mess it is: which names but for their numbers, and what of them is new.

    What is still being made in a folder of its own goes with it, however far it has come.
    """
    held = [(name, left.files.get(name), left.logs.get(name)) for name in sorted(left.names)]
    known = [
        (re.sub(r"[0-9a-f]{8}", "*", name), *rest)
        for name, *rest in held
        if not re.search(r"\.greyscale-new-[^/]*/new/.", name)
    ]
    return hashlib.sha256(repr(known).encode()).hexdigest()


def _opened(folder: Path, process: int | str = "self") -> Iterator[tuple[int, str, int, bool]]:
    """The handles that a process has of what is in a folder, of what, how opened, if locked."""
    for name in os.listdir(f"/proc/{process}/fd"):
        try:
            path = os.readlink(f"/proc/{process}/fd/{name}")
            told = Path(f"/proc/{process}/fdinfo/{name}").read_text()
        except OSError:
            continue
        if Path(path).is_relative_to(folder):
            flags = int(told.split("flags:")[1].split()[0], 8)
            yield int(name), path, flags, "FLOCK" in told


def _copied(run: int, folder: Path, copy: Path) -> None:
    """Copy a folder: files that nobody writes to as links, for a file is replaced as a whole."""
    held = {
        path
        for _, path, flags, locked in _opened(folder, run)
        if locked or flags & os.O_ACCMODE != os.O_RDONLY
    }

    def one(source: str, target: str) -> Any:
        if LOG in source or source in held:
            return shutil.copy2(source, target)
        return os.link(source, target)

    shutil.copytree(folder, copy, symlinks=True, copy_function=one)


def _move(copy: Path, folder: Path) -> None:
    """Let this process alone find a copy in a folder's place, in all that it has open too."""
    opened = list(_opened(folder))
    mapped = [line.split() for line in Path("/proc/self/maps").read_text().splitlines()]
    here = os.getcwd()
    libc = ctypes.CDLL(None, use_errno=True)
    if (
        libc.unshare(_APART)
        or libc.mount(b"none", b"/", None, _PRIVATE, None)
        or libc.mount(bytes(copy), bytes(folder), None, _BIND, None)
    ):
        raise OSError(ctypes.get_errno(), "nothing can be mounted here")
    os.chdir(here)
    for handle, path, flags, locked in opened:
        fresh = _open_again(handle, path, flags, folder)
        if locked:
            fcntl.flock(fresh, fcntl.LOCK_EX | fcntl.LOCK_NB)
        os.dup2(fresh, handle, inheritable=os.get_inheritable(handle))
        os.close(fresh)
    libc.mmap.argtypes = [ctypes.c_void_p, ctypes.c_size_t, *[ctypes.c_int] * 3, ctypes.c_long]
    libc.mmap.restype = ctypes.c_void_p
    for span, how, offset, _, _, *path in mapped:
        if how.startswith("rw-s") and path and Path(path[0]).is_relative_to(folder):
            begin, end = (int(part, 16) for part in span.split("-"))
            handle = os.open(path[0], os.O_RDWR)
            libc.mmap(begin, end - begin, 3, _SHARED_AT, handle, int(offset, 16))
            os.close(handle)


def _open_again(handle: int, path: str, flags: int, folder: Path) -> int:
    if path.endswith(" (deleted)"):
        # It has no name, or none any more.
        fresh = os.open(folder, os.O_TMPFILE | os.O_RDWR, 0o600)
        size = os.fstat(handle).st_size
        os.write(fresh, os.pread(handle, size, 0))
    else:
        fresh = os.open(path, flags & ~(os.O_CREAT | os.O_EXCL | os.O_TRUNC))
    if not os.path.isdir(path):
        os.lseek(fresh, os.lseek(handle, 0, os.SEEK_CUR), os.SEEK_SET)
    return fresh


def can_be_made() -> bool:
    """Say whether a process may have mounts of its own here."""
    child = os.fork()
    if child == 0:
        os._exit(0 if ctypes.CDLL(None).unshare(_APART) == 0 else 1)
    return os.waitpid(child, 0)[1] == 0
