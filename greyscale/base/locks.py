"""How processes that write to one folder wait for each other, where the system lets them."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from greyscale.base.errors import BadInput

try:
    import fcntl
except ImportError:  # Windows has none of it: there, processes do not wait for each other.
    fcntl = None  # type: ignore[assignment]

PATIENCE = 20.0
"""Seconds to wait for another process that has a folder locked; greyscale needs less than one."""


def lock(folder: Path, patience: float = 0.0) -> int | None:
    """Lock a folder for this process, until the handle is closed or the process ends.

    Parameters
    ----------
    patience
        Seconds to wait for another process that has it locked.

    Returns
    -------
    A handle of the folder; None where it cannot be locked at all.

    Raises
    ------
    BlockingIOError
        If another process has it.
    """
    if fcntl is None:
        return None
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return None
    give_up = time.monotonic() + patience
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return handle
        except BlockingIOError:
            if time.monotonic() >= give_up:
                os.close(handle)
                raise
            time.sleep(0.01)
        except OSError:
            os.close(handle)
            return None


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Let other processes that do the same wait while the block runs.

    Raises
    ------
    BadInput
        If another process keeps it locked for longer than `PATIENCE`.
    """
    try:
        handle = lock(folder, PATIENCE)
    except BlockingIOError as error:
        raise BadInput(
            f"another program has kept this folder locked for {PATIENCE:g} s; close it, or give "
            "another folder to write to",
            folder,
        ) from error
    try:
        yield
    finally:
        if handle is not None:
            os.close(handle)
