"""How several files come into a folder: all of them or none, and by one process at a time."""

from __future__ import annotations

import ctypes
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.files import note_written
from greyscale.base.locks import lock, locked
from greyscale.base.outputs import refuse_to_replace

_NEW = ".greyscale-new-"
"""How the names of folders begin in which something is being made."""

# Of the system call renameat2 of Linux.
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2


@contextmanager
def files_together(folder: Path | str) -> Iterator[Path]:
    """Give an empty folder; the files in it come into `folder` when all went well.

    They take the place of files of the same names; all others there are left alone. Where space
    runs out, or the process is killed while they are made, nothing has changed. Of two processes
    that do so at the same time, the files of the one come first, then those of the other.

    Parameters
    ----------
    folder
        Made if it is missing.

    Raises
    ------
    BadInput
        If it cannot be made or written.
    """
    target = Path(folder)
    with _refused(target, None):
        target.mkdir(parents=True, exist_ok=True)
    with staged(target, target) as fresh:
        yield fresh
        with locked(target):
            made = sorted(fresh.rglob("*"))
            for path in made:
                if not path.is_dir():
                    with path.open("rb") as file:
                        refuse_to_replace(target / path.relative_to(fresh), file)
            for path in made:
                placed = target / path.relative_to(fresh)
                if path.is_dir():
                    placed.mkdir(exist_ok=True)
                else:
                    os.replace(path, placed)
                    note_written(placed)


@contextmanager
def staged(parent: Path, target: Path) -> Iterator[Path]:
    """Give an empty folder in `parent`, to make in it what is to become of `target`.

    It is gone afterwards; one that a killed process left behind goes when the next one begins.

    Raises
    ------
    BadInput
        For `target`, if something cannot be written.
    """
    handle = None
    with _refused(target, None), locked(parent):
        _remove_left_behind(parent)
        outer = Path(tempfile.mkdtemp(prefix=f"{_NEW}{target.name[:40]}-", dir=parent))
        handle = lock(outer)
    # The lock says that this process lives; the folder within may be locked for itself.
    fresh = outer / "new"
    try:
        with _refused(target, fresh):
            fresh.mkdir()
            yield fresh
    finally:
        shutil.rmtree(outer, ignore_errors=True)
        if handle is not None:
            os.close(handle)


def exchange(one: Path, other: Path) -> bool:
    """Let two folders change places, in no time between; say whether the system can do that."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    names = os.fsencode(one), os.fsencode(other)
    return bool(rename(_AT_FDCWD, names[0], _AT_FDCWD, names[1], _RENAME_EXCHANGE) == 0)


def _remove_left_behind(parent: Path) -> None:
    """Remove what killed processes left: whoever lives has its folder locked."""
    for path in parent.glob(f"{_NEW}*"):
        handle = lock(path, wait=False)
        if handle is not None:
            shutil.rmtree(path, ignore_errors=True)
            os.close(handle)


@contextmanager
def _refused(target: Path, fresh: Path | None) -> Iterator[None]:
    """Speak of the target, not of the folder in which it is being made."""
    try:
        yield
    except OSError as error:
        raise BadInput(f"cannot be written ({error.strerror or error})", target) from error
    except BadInput as error:
        if fresh is None or error.source is None or not error.source.startswith(str(fresh)):
            raise
        inner = error.source.removeprefix(str(fresh)).lstrip(os.sep)
        raise BadInput(error.message, target / inner, error.line) from error
