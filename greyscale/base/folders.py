"""How several files come into a folder: all of them or none, and by one process at a time.

They are made in a folder beside. A folder of results then changes places with it, in one step of
the system. Where that cannot be (a folder with much else in it, the working folder, a disk of its
own), the files take their places one after the other, and a journal tells the next run how to put
back what a killed one had begun.
"""

from __future__ import annotations

import ctypes
import json
import os
import secrets
import shutil
import stat
import tempfile
from collections.abc import Callable, Container, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.files import lock, locked, note_written, resolved, umask
from greyscale.base.outputs import refuse_to_replace

_NEW = ".greyscale-new-"
"""How the names of folders begin in which something is being made."""

_OTHERS = 1000
"""Files of others in a folder that may still change places; with more, it is not ours."""

# Of the system call renameat2 of Linux.
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2

_UNDO, _JOURNAL, _OLD = "undo", "journal.json", "old"


@contextmanager
def files_together(folder: Path | str) -> Iterator[Path]:
    """Yield an empty folder; the files in it come into `folder` when all went well.

    They take the place of files of the same names; all others there are left alone. After an
    error, and where the process is killed while they are made, nothing has changed; where it is
    killed as they take their places, the next that writes there puts the old ones back.

    Parameters
    ----------
    folder
        Of a person; made if it is missing.

    Raises
    ------
    BadInput
        If it cannot be made or written.
    """
    target = resolved(folder)
    with _refused(target, None):
        target.mkdir(parents=True, exist_ok=True)
    with _staged(target, target) as fresh:
        yield fresh
        made = _files(fresh)
        with locked(target):
            _refuse(made, fresh, target)
            _place(made, [], fresh, target)
    for path in made:
        note_written(Path(folder) / path)


@contextmanager
def whole_folder(
    folder: Path | str, own: Container[str] = (), refuse: Callable[[], None] = lambda: None
) -> Iterator[Path]:
    """Yield an empty folder beside `folder`; it takes that one's place when all went well.

    What others have put there is kept. After an error, or a kill, nothing has changed. Of two
    processes that write to one folder, the later one replaces the other's.

    Parameters
    ----------
    folder
        Of results; made if it is missing.
    own
        Names in it that are this program's, whatever they hold: they go.
    refuse
        Called just before the change: another process may have written there meanwhile.

    Raises
    ------
    BadInput
        If it cannot be made or written.
    """
    target = resolved(folder)
    if any(part.startswith(_NEW) for part in target.parts):
        # In the making already: it comes into its place with all that is around it.
        target.mkdir(parents=True, exist_ok=True)
        yield target
        return
    with _refused(target, None):
        target.parent.mkdir(parents=True, exist_ok=True)
    beside = _can_be_swapped(target)
    if target.is_dir():
        remove_left_behind(target, _NEW)
    with _staged(target.parent if beside else target, target) as fresh:
        yield fresh
        made = _files(fresh)
        with locked(target.parent), locked(target):
            refuse()
            _refuse([path for path in made if path.parts[0] not in own], fresh, target)
            there = _files(target)
            stale = [path for path in there if path.parts[0] in own and path not in made]
            others = [path for path in there if path not in made and path not in stale]
            if not (beside and _swap(others, own, fresh, target)):
                _place(made, stale, fresh, target)
    for path in made:
        note_written(Path(folder) / path)


@contextmanager
def scratch(parent: Path, family: str, name: str = "") -> Iterator[Path]:
    """Yield an empty folder in `parent` while the block runs.

    One that a killed process left behind goes when the next one of its family begins.

    Parameters
    ----------
    family
        How the names of all such folders begin.
    name
        What follows in this one's.
    """
    # Named before it is made: a signal may come in between.
    folder = parent / f"{family}{name}{secrets.token_hex(4)}"
    handle: int | None = None
    try:
        with locked(parent):
            remove_left_behind(parent, family)
            folder.mkdir(mode=0o700)
            # It says that this process lives.
            handle = lock(folder)
        yield folder
    finally:
        try:
            _remove(folder)
        except BaseException:
            # Asked to end while it clears away: it clears away, and ends.
            _remove(folder)
            raise
        if handle is not None:
            os.close(handle)


@contextmanager
def temporary(family: str) -> Iterator[Path]:
    """Yield an empty folder that nobody needs afterwards while the block runs; see `scratch`."""
    with scratch(_own_temporary(), family) as folder:
        yield folder


def _own_temporary() -> Path:
    """Return a folder of this user's own: that for all programs, another may keep locked."""
    shared = Path(tempfile.gettempdir())
    if os.name == "nt":
        return shared
    own = shared / f"greyscale-{os.getuid()}"
    try:
        own.mkdir(mode=0o700, exist_ok=True)
        found = own.lstat()
    except OSError:
        return shared
    # Anyone may have taken the name first.
    private = stat.S_ISDIR(found.st_mode) and found.st_mode & 0o077 == 0
    return own if private and found.st_uid == os.getuid() else shared


@contextmanager
def _staged(parent: Path, target: Path) -> Iterator[Path]:
    """Yield an empty folder in `parent`, to make in it what is to become of `target`.

    Raises
    ------
    BadInput
        For `target`, if something cannot be written.
    """
    with _refused(target, None), scratch(parent, _NEW, f"{target.name[:40]}-") as outer:
        # The folder within may be locked for itself.
        fresh = outer / "new"
        with _refused(target, fresh):
            fresh.mkdir(mode=0o777 & ~umask())
            yield fresh


def _files(folder: Path) -> list[Path]:
    """Return all that lies below a folder but folders, by its path in it."""
    return [
        (Path(place) / name).relative_to(folder)
        for place, folders, names in os.walk(folder)
        for name in [*names, *(one for one in folders if (Path(place) / one).is_symlink())]
    ]


def _refuse(made: Sequence[Path], fresh: Path, target: Path) -> None:
    """Refuse files that are in the way, before any is touched."""
    if target.exists() and not target.is_dir():
        raise BadInput("cannot be written: it is a file; give a folder to write to", target)
    for path in made:
        for part in list(path.parents)[:-1]:
            if (target / part).exists() and not (target / part).is_dir():
                raise BadInput("is a file; give another folder to write to", target / part)
        if (target / path).is_dir():
            raise BadInput("is a folder; give another one to write to", target / path)
        with (fresh / path).open("rb") as file:
            refuse_to_replace(target / path, file)


def _can_be_swapped(target: Path) -> bool:
    """Say whether a folder may give way to another: no disk of its own, no one's place of work.

    One that is not there may: where it cannot be made, the system says why.
    """
    if not target.exists():
        return True
    if not os.access(target.parent, os.W_OK) or os.path.ismount(target):
        return False
    with suppress(OSError):
        return target not in (Path.cwd(), *Path.cwd().parents)
    return True


def _swap(others: Sequence[Path], own: Container[str], fresh: Path, target: Path) -> bool:
    """Let the fresh folder take the target's place in one step, with what others put there.

    Returns
    -------
    Whether the system could do that; if not, the target is what it was.
    """
    if len(others) > _OTHERS or any(path.parts[0].startswith(_NEW) for path in others):
        return False
    try:
        if not target.exists():
            os.rename(fresh, target)
            return True
        for place, _, _ in os.walk(target):
            path = Path(place).relative_to(target)
            if not any(part in own for part in path.parts[:1]):
                (fresh / path).mkdir(exist_ok=True)
                shutil.copymode(place, fresh / path)
        for path in others:
            os.link(target / path, fresh / path, follow_symlinks=False)
    except (OSError, NotImplementedError):
        return False
    return exchange(fresh, target)


def exchange(one: Path, other: Path) -> bool:
    """Let two folders change places, in no time between; say whether the system can do that."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    names = os.fsencode(one), os.fsencode(other)
    return bool(rename(_AT_FDCWD, names[0], _AT_FDCWD, names[1], _RENAME_EXCHANGE) == 0)


def _place(made: Sequence[Path], stale: Sequence[Path], fresh: Path, target: Path) -> None:
    """Let files take their places one after the other; `_undo` puts the old ones back.

    Parameters
    ----------
    made
        In `fresh`, to be moved.
    stale
        In `target`, to go.
    """
    outer = fresh.parent
    old = outer / "part" / _OLD
    old.mkdir(parents=True)
    marks: dict[str, list[int] | None] = dict.fromkeys(map(str, stale))
    marks |= {str(path): _mark(fresh / path) for path in made}
    for path in (*made, *stale):
        if os.path.lexists(target / path):
            (old / path).parent.mkdir(parents=True, exist_ok=True)
            _same_file(target / path, old / path)
    journal = {"folder": os.path.relpath(target, outer.parent), "files": marks}
    (old.parent / _JOURNAL).write_text(json.dumps(journal), encoding="utf-8")
    os.rename(old.parent, outer / _UNDO)
    for path in made:
        (target / path).parent.mkdir(parents=True, exist_ok=True)
        os.replace(fresh / path, target / path)
    for path in stale:
        (target / path).unlink()
    # Now there is nothing left to undo.
    os.rename(outer / _UNDO, outer / "done")


def _undo(outer: Path) -> bool:
    """Put back what was replaced by a process that ended before all was in its place.

    Only what is as that process left it: a file that has changed since is somebody's.

    Returns
    -------
    Whether nothing is left to put back.
    """
    if not (outer / _UNDO).exists():
        return True
    try:
        journal = json.loads((outer / _UNDO / _JOURNAL).read_text(encoding="utf-8"))
        target = outer.parent / Path(journal["folder"]).name
        for name, mark in journal["files"].items():
            path, before = target / name, outer / _UNDO / _OLD / name
            if Path(name).is_absolute() or ".." in Path(name).parts or _mark(path) != mark:
                continue
            if os.path.lexists(before):
                os.replace(before, path)
            elif mark is not None:
                path.unlink()
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return False
    return True


def _mark(path: Path) -> list[int] | None:
    """Return what tells a file from every other, and from itself once it was changed."""
    try:
        found = path.lstat()
    except OSError:
        return None
    return [found.st_ino, found.st_size, found.st_mtime_ns]


def _same_file(source: Path, target: Path) -> None:
    """Let a file stand in both places: as the same file where the system can."""
    try:
        os.link(source, target, follow_symlinks=False)
    except (OSError, NotImplementedError):
        shutil.copy2(source, target, follow_symlinks=False)


def remove_left_behind(parent: Path, family: str) -> None:
    """Remove the folders of a family that killed processes left; the living lock their own."""
    for path in parent.glob(f"{family}*"):
        with suppress(OSError):
            handle = lock(path)
            if handle is not None:
                _remove(path)
                os.close(handle)


def _remove(folder: Path) -> None:
    if _undo(folder):
        shutil.rmtree(folder, ignore_errors=True)


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
