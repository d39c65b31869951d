"""How processes that write to one folder wait for each other, where the system lets them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows has none of it: there, processes do not wait for each other.
    fcntl = None  # type: ignore[assignment]


def lock(folder: Path, wait: bool = True) -> int | None:
    """Lock a folder for this process, until the handle is closed or the process ends.

    Parameters
    ----------
    wait
        For another process that has it locked.

    Returns
    -------
    A handle of the folder; None where it cannot be locked, or another process has it.
    """
    if fcntl is None:
        return None
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        os.close(handle)
        return None
    return handle


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Let other processes that do the same wait while the block runs."""
    handle = lock(folder)
    try:
        yield
    finally:
        if handle is not None:
            os.close(handle)
