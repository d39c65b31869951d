"""What may be written over: no input of this run, no print log, nothing of another's.

A command declares what it reads and writes before it works (`guarded`); whatever then puts a file
in its place asks here. What greyscale itself wrote is recognised by its content, and replaced only
where that was asked for. From Python nothing is declared, and files are replaced as asked.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from greyscale.base.errors import BadInput

_LOOKED_AT = 1 << 16
"""Bytes at either end of a file in which its mark stands."""

TYPED = "typed reading"
"""The kind of file that is saved after each patch, and gone on with; see `Guard`."""

_MARKS = (
    (TYPED, rb'CGATS\.17\b[^\0]*?KEYWORD "TYPED_FROM"'),
    ("repaired reading", rb'CGATS\.17\b[^\0]*?KEYWORD "REPAIRED"'),
    ("chart's layout", rb'CGATS\.17\b[^\0]*?KEYWORD "CHART_'),
    ("page", rb'\s*<!doctype html>.*?<meta name="generator" content="greyscale '),
    ("PDF", rb"%PDF-.*?/(?:Creator|Producer) \(greyscale"),
    ("corrected TIFF", rb"(?:II[*+]\0|MM\0[*+]).*?urn:greyscale:xmp:"),
    ("chart's TIFF", rb"(?:II[*+]\0|MM\0[*+]).*?\0greyscale\0"),
    ("corrected PNG", rb"\x89PNG.*?urn:greyscale:xmp:"),
    ("preview", rb"\x89PNG.*?Software\0greyscale preview"),
    ("figure", rb"\x89PNG.*?Software\0greyscale"),
    ("corrected JPEG", rb"\xff\xd8\xff.*?urn:greyscale:xmp:"),
    ("drawing", rb"\s*<\?xml.*?<dc:title>greyscale</dc:title>"),
    ("glazing", rb"# greyscale glazing: "),
    ("lamp", rb"# greyscale lamp: "),
    ("table of patches", rb"id,level,L,a,b,density,aim_L,aim_a,aim_b,delta_L,"),
)
"""How each kind of file begins, and what it holds that greyscale wrote and no other program.

A picture that was a chart or a preview before it was corrected keeps what it said then: the first
that fits is meant."""

_KINDS = tuple((kind, re.compile(mark, re.S)) for kind, mark in _MARKS)
_SCHEMA = re.compile(rb'\s*\{\s*"schema": "(greyscale/[a-z-]+)/')
"""JSON is of as many kinds as there are schemas: a correction is no analysis."""


@dataclass(frozen=True)
class Guard:
    """What one run may not write over.

    Attributes
    ----------
    inputs
        Device and inode of every file it reads, and of the print log.
    replace
        Whether files that greyscale wrote may be replaced.
    own
        A folder whose content is known to be greyscale's own; or None.
    goes_on
        Whether it types readings in: what was typed so far may always be replaced by more of it.
    """

    inputs: frozenset[tuple[int, int]]
    replace: bool
    own: Path | None = None
    goes_on: bool = False


_guard: Guard | None = None


@contextmanager
def guarded(
    inputs: Iterable[Path], *, replace: bool, own: Path | None = None, goes_on: bool = False
) -> Iterator[None]:
    """Let nothing be written over these files, nor over what is not greyscale's own.

    Parameters
    ----------
    inputs
        Files; those that aren't there count for nothing. Folders stand for all in them.
    replace, own, goes_on
        See `Guard`.
    """
    global _guard
    before, _guard = _guard, Guard(frozenset(_identities(inputs)), replace, own, goes_on)
    try:
        yield
    finally:
        _guard = before


def _identities(paths: Iterable[Path]) -> Iterator[tuple[int, int]]:
    for path in paths:
        found = _status(path)
        if found is None:
            continue
        yield _identity(found)
        if stat.S_ISDIR(found.st_mode):
            for inner in _within(path):
                if (one := _status(inner)) is not None:
                    yield _identity(one)


def _identity(found: os.stat_result) -> tuple[int, int]:
    return found.st_dev, found.st_ino


def _within(folder: Path) -> Iterator[Path]:
    for place, folders, names in os.walk(folder):
        if len(Path(place).relative_to(folder).parts) > 2:
            folders.clear()
        yield from (Path(place) / name for name in names[:10_000])


def _status(path: Path) -> os.stat_result | None:
    try:
        return os.stat(path)
    except (OSError, ValueError):
        return None


def kind_of(file: BinaryIO) -> str | None:
    """Return what kind of file greyscale wrote here; None if it is another's.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    ends = file.read(_LOOKED_AT)
    file.seek(max(len(ends), size - _LOOKED_AT))
    ends += file.read(_LOOKED_AT)
    if schema := _SCHEMA.match(ends):
        return f"JSON ({schema[1].decode()})"
    return next((kind for kind, mark in _KINDS if mark.match(ends)), None)


def refuse_input(target: Path) -> os.stat_result | None:
    """Refuse a place that is an input of this run; return what is there, None for nothing."""
    found = None if _guard is None else _status(target)
    if _guard is not None and found is not None and _identity(found) in _guard.inputs:
        raise BadInput("this is an input; give another name to write to", target)
    return found


def refuse_to_replace(target: Path, fresh: BinaryIO | None = None) -> None:
    """Refuse a file's place that is an input's, or that holds what may not be replaced.

    Identity is that of the file, not of its name: links, and disks that ignore case, change
    nothing.

    Parameters
    ----------
    target
        Where a file is to go.
    fresh
        That file, if it is made already, open to be read: what is replaced must be of its kind.

    Raises
    ------
    BadInput
        Saying what is in the way, and what to do.
    """
    found = refuse_input(target)
    if _guard is None or found is None:
        return
    if not stat.S_ISREG(found.st_mode):
        return
    if _guard.own is not None and _guard.own in target.resolve().parents and _guard.replace:
        return
    with target.open("rb") as file:
        there = kind_of(file)
    if there is None:
        raise BadInput(
            "greyscale did not write this file and will not write over it; give another name",
            target,
        )
    if fresh is not None and (kind := kind_of(fresh)) != there:
        wanted = kind or "file of another kind"
        raise BadInput(f"is a {there}, and would become a {wanted}; give another name", target)
    if not (_guard.replace or (_guard.goes_on and there == TYPED)):
        raise BadInput("is there already; give another name, or --replace to replace it", target)


def may_replace() -> bool:
    """Say whether what greyscale wrote earlier may be replaced: in a run that declared so."""
    return _guard is None or _guard.replace


def default_log() -> Path:
    """Return the print log's path in the user's data folder, as each system has it."""
    from platformdirs import user_data_path

    return user_data_path("greyscale", appauthor=False) / "print-log.sqlite3"
