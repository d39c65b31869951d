"""How files are written: whole or not at all, and never over an input."""

from __future__ import annotations

import glob
import hashlib
import logging
import os
import re
import secrets
import shutil
import stat
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO, cast

from greyscale.base.errors import BadInput
from greyscale.base.outputs import guarded, refuse_input, refuse_to_replace

# How processes that write to one folder wait for each other, where the system lets them.

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


_LOG = logging.getLogger("greyscale")
_FOLDER_IN_THE_MAKING = re.compile(r"\..*-[a-z0-9_]{8}")


@contextmanager
def whole_file(path: Path | str) -> Iterator[Path]:
    """Yield a temporary path beside `path`; it takes the file's place when all went well.

    The folder is made if it is missing. After an error, or a kill, the target is what it was.

    Raises
    ------
    BadInput
        If the folder or the file cannot be written.
    """
    target = followed(path)
    refuse_to_replace(target)
    begins = f".{target.stem[:40]}-greyscale-"
    # Named before it is made: a signal may come in between.
    temporary = target.with_name(f"{begins}{secrets.token_hex(4)}{target.suffix}")
    handle: int | None = None
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        _remove_left_behind(target.parent, begins, target.suffix)
        temporary.touch(mode=0o600, exist_ok=False)
        # It says that this process lives.
        handle = lock(temporary)
        yield temporary
        temporary.chmod(0o666 & ~umask())
        with temporary.open("rb") as fresh:
            refuse_to_replace(target, fresh)
        os.replace(temporary, target)
        note_written(target)
    except OSError as error:
        raise BadInput(f"cannot be written ({error.strerror or error})", target) from error
    finally:
        # Where nothing could be made, there is nothing to take away.
        with suppress(OSError):
            temporary.unlink()
        if handle is not None:
            os.close(handle)


_A_MOMENT = 60.0
"""Seconds in which a file that was just made is certainly locked."""


def _remove_left_behind(folder: Path, begins: str, ends: str) -> None:
    """Remove what killed processes left: whoever lives has its own locked, but for a moment."""
    for left in folder.glob(f"{glob.escape(begins)}{8 * '[0-9a-f]'}{glob.escape(ends)}"):
        with suppress(OSError):
            old = time.time() - left.stat().st_mtime > _A_MOMENT
            if old and (mine := lock(left)) is not None:
                left.unlink(missing_ok=True)
                os.close(mine)


@contextmanager
def whole_stream(path: Path | str) -> Iterator[BinaryIO]:
    """Yield an empty file to write to; it takes the place of `path` when all went well.

    Where the system has files without a name (Linux has), it is one of these until it is whole:
    then even a run that is killed leaves nothing behind. Else it is a temporary file beside the
    target, as in `whole_file`.

    Raises
    ------
    BadInput
        If the folder or the file cannot be written.
    """
    target = followed(path)
    refuse_to_replace(target)
    if _is_device(target):
        with _to_device(target) as file:
            yield file
        return
    handle = _open_nameless(target.parent)
    if handle is None:
        with whole_file(target) as temporary, temporary.open("r+b") as file:
            yield file
        return
    try:
        # What cannot be written is tried once more as the file is closed.
        with os.fdopen(handle, "w+b") as file:
            yield file
            file.flush()
            refuse_to_replace(target, file)
            os.fchmod(handle, 0o666 & ~umask())
            if _name(handle, target):
                note_written(target)
                return
            file.seek(0)
            with whole_file(target) as temporary, temporary.open("wb") as copy:
                shutil.copyfileobj(file, copy, 1 << 20)
    except OSError as error:
        raise BadInput(f"cannot be written ({error.strerror or error})", target) from error


def followed(path: Path | str) -> Path:
    """Return where a path leads: a link is written through, not replaced.

    Raises
    ------
    BadInput
        If links lead in a circle.
    """
    return resolved(path) if Path(path).is_symlink() else Path(path)


def resolved(path: Path | str) -> Path:
    """Return a path in full and without links.

    Raises
    ------
    BadInput
        If links lead in a circle.
    """
    try:
        return Path(path).resolve()
    except (OSError, RuntimeError) as error:
        if isinstance(error, FileNotFoundError):
            # There is no working folder any more.
            raise
        raise BadInput("is a link that leads in a circle; give another name", path) from error


def _is_device(target: Path) -> bool:
    """Say whether something is there that is no file: a device, or a pipe that another reads."""
    try:
        mode = target.stat().st_mode
    except (OSError, ValueError):
        return False
    return not (stat.S_ISREG(mode) or stat.S_ISDIR(mode))


@contextmanager
def _to_device(target: Path) -> Iterator[BinaryIO]:
    try:
        with target.open("wb") as device, tempfile.SpooledTemporaryFile() as file:
            yield cast(BinaryIO, file)
            file.seek(0)
            shutil.copyfileobj(file, device)
    except OSError as error:
        raise BadInput(f"cannot be written ({error.strerror or error})", target) from error


def _open_nameless(folder: Path) -> int | None:
    """Open a file without a name in a folder, which is made if it is missing; None: cannot."""
    kind = getattr(os, "O_TMPFILE", None)
    if kind is None:
        return None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return os.open(folder, kind | os.O_RDWR, 0o600)
    except OSError:
        return None


def _name(handle: int, target: Path) -> bool:
    """Say whether a nameless file could be given its name, in place of a file that has it."""
    if _link(handle, target):
        return True
    if not os.path.lexists(target):
        return False
    # A link cannot take another file's place; a file that has a name can.
    beside = _beside(target)
    with locked(target.parent):
        # It is there if a process was killed at this very place.
        beside.unlink(missing_ok=True)
        try:
            if not _link(handle, beside):
                return False
            os.replace(beside, target)
        except BaseException:
            beside.unlink(missing_ok=True)
            raise
    return True


def _beside(target: Path) -> Path:
    """Return the name that a nameless file gets on its way to a place that is taken."""
    return target.with_name(f".{target.stem[:40]}-greyscale{target.suffix}")


def _link(handle: int, name: Path) -> bool:
    """Say whether a nameless file could be given a name that no file has."""
    folder = os.open(name.parent, os.O_RDONLY)
    try:
        # Only with a folder's handle does Python follow the link in /proc to the file itself.
        os.link(f"/proc/self/fd/{handle}", name.name, dst_dir_fd=folder, follow_symlinks=True)
    except OSError:
        return False
    finally:
        os.close(folder)
    return True


def write_whole(path: Path | str, content: str | bytes) -> None:
    """Write text (UTF-8, line ends as given) or bytes, whole or not at all."""
    # Half a character, as in the name of a file in an old encoding, has no bytes of its own.
    data = content.encode("utf-8", "replace") if isinstance(content, str) else content
    if _holds(Path(path), data):
        if (beside := _beside(followed(path))).exists():
            # A process was killed as it was about to put another in its place.
            with locked(beside.parent):
                beside.unlink(missing_ok=True)
        return
    with whole_stream(path) as file:
        file.write(data)


def _holds(path: Path, data: bytes) -> bool:
    """Say whether a file holds just this already, so that nothing is to be replaced."""
    try:
        return path.is_file() and path.stat().st_size == len(data) and path.read_bytes() == data
    except OSError:
        return False


def note_written(path: Path) -> None:
    """Note down, for those who want to know, that a file is there; see the option `--verbose`.

    Files in a folder that is still in the making are noted by whoever puts that in its place.
    """
    if not any(_FOLDER_IN_THE_MAKING.fullmatch(folder) for folder in path.parent.parts):
        _LOG.info("wrote %s", path)


def keep_inputs(inputs: Iterable[Path | str], outputs: Iterable[Path | str]) -> None:
    """Refuse outputs that would overwrite an input.

    Raises
    ------
    BadInput
        Naming the output.
    """
    with guarded((Path(path) for path in inputs), replace=True):
        for output in outputs:
            refuse_input(Path(output))


def sha256_of(path: Path | str) -> str | None:
    """Return the SHA-256 of a file in hexadecimal digits, or None where there is no such file."""
    try:
        with Path(path).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except (OSError, ValueError):
        return None


def umask() -> int:
    """Return the permissions that new files and folders are not to have."""
    current = os.umask(0)
    os.umask(current)
    return current
