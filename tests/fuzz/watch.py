"""What a reader does with one file: whether it refuses it as it should, how long, and what else.

A process calls `watch_files` once: from then on Python tells of every file that is opened to be
written, and of every one that is read outside a few folders, by its audit events (PEP 578).
"""

from __future__ import annotations

import os
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from greyscale.base.errors import BadInput

SECONDS = 2.0
"""Of processor time that a reader may take over a file."""

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_CHANGES = frozenset({
    "os.remove", "os.rename", "os.mkdir", "os.rmdir", "os.link", "os.symlink", "os.truncate",
    "os.chmod", "shutil.rmtree", "subprocess.Popen", "os.system", "socket.connect", "os.exec",
})  # fmt: skip
_ADDRESSES = frozenset({"socket.connect"})

_PROGRAM = tuple(
    str(Path(place).resolve())
    for place in (sys.prefix, sys.base_prefix, Path(__file__).parents[2], "/usr", "/etc", "/proc",
                  "/sys", "/dev")
)  # fmt: skip
"""Where the program and the system lie; what is read there was not named by a file."""


class TakesTooLong(BaseException):
    """More processor time than `SECONDS`; no `Exception`, which a reader could take for its own."""


_seen: list[str] = []
_watching = False
_allowed: tuple[str, ...] = ()


def watch_files(*allowed: Path) -> None:
    """Note from now on what is written, and what is read outside of the allowed folders."""
    global _watching, _allowed
    _allowed = (*map(str, allowed), *_PROGRAM)
    if not _watching:
        sys.addaudithook(_note)
        _watching = True


def _note(event: str, arguments: tuple[object, ...]) -> None:
    if event == "open":
        path, _, flags = arguments
        if isinstance(path, bytes):
            path = os.fsdecode(path)
        if not isinstance(path, str) or not isinstance(flags, int):
            return
        if (
            flags & _WRITING
            and not path.endswith((".pyc", "/dev/null"))
            and "__pycache__" not in path
        ):
            _seen.append(_OPENED + path)
        elif not os.path.abspath(path).startswith(_allowed):
            _seen.append(f"read: {path}")
    elif event in _CHANGES:
        _seen.append(f"{event}: {str(arguments)[:200]}")


_OPENED = "opened to write: "


def written() -> list[str]:
    """The files that were opened to be written since the last input came."""
    return [one.removeprefix(_OPENED) for one in _seen if one.startswith(_OPENED)]


def limit_memory(bytes_more: int) -> None:
    """Let this process have so much more memory than it has now."""
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * resource.getpagesize() + bytes_more
    resource.setrlimit(resource.RLIMIT_AS, (most, resource.getrlimit(resource.RLIMIT_AS)[1]))


def peak_memory() -> int:
    """The most memory that this process has held, bytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


@contextmanager
def timed(seconds: float) -> Iterator[None]:
    """Raise `TakesTooLong` after so much processor time."""

    def ring(*_: object) -> None:
        raise TakesTooLong

    before = signal.signal(signal.SIGVTALRM, ring)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


REFUSED = "refused: "
"""How the outcome of a file that was refused begins."""


def outcome(read: Callable[[Path], object], path: Path, writes: bool = False) -> str | None:
    """Read a file; give None if it was read, why it was refused, or what went wrong.

    Parameters
    ----------
    writes
        Whether this reader is one that writes: to a database of its own.
    """
    refused = None
    _seen.clear()
    start = time.process_time()
    try:
        with timed(SECONDS):
            read(path)
    except BadInput as refusal:
        said = refusal.message.strip()
        if not 0 < len(said) <= 1000:
            return f"says nothing, or far too much: {said[:300]!r}"
        refused = REFUSED + said
    except TakesTooLong:
        return f"takes more than {SECONDS:g} s:\n" + traceback.format_exc(limit=-12)
    except MemoryError:
        return "takes too much memory:\n" + traceback.format_exc(limit=-12)
    except (Exception, SystemExit):
        return "ends in a traceback:\n" + traceback.format_exc(limit=-12)
    took = time.process_time() - start
    if took > SECONDS:
        return f"takes {took:.1f} s"
    return refused if writes or not _seen else f"touches other files: {_seen[:5]}"


def work_folder() -> tempfile.TemporaryDirectory[str]:
    """Make a folder for inputs, in memory where the system has such a place."""
    place = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    return tempfile.TemporaryDirectory(prefix="fuzz-", dir=place)
