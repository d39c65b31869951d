"""How a correction folder is written: whole or not at all, and over nothing that is not ours."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.files import note_written, umask
from greyscale.base.folders import exchange, staged
from greyscale.base.locks import locked
from greyscale.base.outputs import may_replace
from greyscale.correction.as_json import SCHEMA
from greyscale.correction.folder import JSON, OWN
from greyscale.correction.json_fields import read_fields


@contextmanager
def whole_folder(target: Path | str, inputs: Iterable[Path | str] = ()) -> Iterator[Path]:
    """Give an empty folder beside `target`; it takes the target's place when all went well.

    A correction folder that is there already is replaced; what others have put into it is kept.
    After an error nothing has changed. Of two processes that write to one target, the later one
    replaces the other's.

    Parameters
    ----------
    inputs
        Files and folders that are read; none may be the target or lie in it.

    Raises
    ------
    BadInput
        If an input is in the way, if the target holds other files but no correction, or if it
        cannot be written.
    """
    folder = Path(target).resolve()
    refuse_other_folder(target, inputs)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(f"cannot be written ({error.strerror})", target) from error
    with staged(folder.parent, folder) as fresh:
        yield fresh
        fresh.chmod(0o777 & ~umask())
        written = [p.relative_to(fresh) for p in sorted(fresh.rglob("*")) if p.is_file()]
        with locked(folder.parent):
            # Another process may have written there meanwhile.
            refuse_other_folder(target, inputs)
            _put_in_place(fresh, folder)
    for path in written:
        note_written(Path(target) / path)


def refuse_other_folder(target: Path | str, inputs: Iterable[Path | str] = ()) -> None:
    """Refuse a target that is an input, or that holds something else than a correction.

    To be asked before the work as well, so that nobody waits for a refusal.

    Raises
    ------
    BadInput
        Saying what is in the way.
    """
    folder = Path(target).resolve()
    for path in inputs:
        read = Path(path).resolve()
        if folder == read or folder in read.parents:
            raise BadInput(f"holds the input {path}; give another folder to write to", target)
    if folder.exists() and not folder.is_dir():
        raise BadInput("is a file; give a folder to write to", target)
    if not folder.is_dir() or not any(folder.iterdir()):
        return
    if not (folder / JSON).is_file():
        raise BadInput("holds other files and no correction; give a new folder", target)
    read_fields(folder / JSON, SCHEMA)
    if not may_replace():
        raise BadInput(
            "holds a correction already; give a new folder, or --replace to replace it", target
        )


def _put_in_place(fresh: Path, folder: Path) -> None:
    """Swap the folders: in one step where the system can.

    Else a kill in the middle leaves both, the old one under a name beside.
    """
    if not folder.exists():
        os.rename(fresh, folder)
        return
    for entry in folder.iterdir():
        if entry.name not in OWN:
            _keep(entry, fresh / entry.name)
    if exchange(fresh, folder):
        return
    old = Path(tempfile.mkdtemp(prefix=f".{folder.name[:40]}-old-", dir=folder.parent))
    os.rename(folder, old / "old")
    try:
        os.rename(fresh, folder)
    except OSError:
        os.rename(old / "old", folder)
        old.rmdir()
        raise
    with suppress(OSError):
        shutil.rmtree(old)


def _keep(entry: Path, target: Path) -> None:
    """Let a file or folder stand in both places: as the same file where the system can."""
    if entry.is_dir() and not entry.is_symlink():
        shutil.copytree(entry, target, symlinks=True, copy_function=_same_file)
    else:
        _same_file(entry, target)


def _same_file(source: Path | str, target: Path | str) -> None:
    try:
        os.link(source, target, follow_symlinks=False)
    except OSError:
        shutil.copy2(source, target, follow_symlinks=False)
