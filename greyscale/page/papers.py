"""What lies in the folder: papers, their sheets, readings and corrections, told from the files.

Nothing is kept beside the files: whatever a command leaves there is found, and what is taken away
is gone. Files that have not changed are not read again. Links are not followed.
"""

from __future__ import annotations

import functools
import glob
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from operator import itemgetter
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput, same_name
from greyscale.base.outputs import kind_of
from greyscale.checks.typing_in import TYPED_FROM, layout_mark
from greyscale.correction.folder import JSON
from greyscale.correction.record import Correction
from greyscale.readings.assemble import told_what_it_lacks
from greyscale.readings.formats import ENDINGS, read
from greyscale.readings.layout import Layout
from greyscale.readings.reading import AXIS_TOLERANCE, Reading
from greyscale.reporting.html import PAGE

PICTURES = (".tif", ".tiff", ".png", ".jpg", ".jpeg")
"""Endings of files that are pictures, where greyscale did not make them."""

PRINTED = (".tif", ".pdf")
"""Beside a layout: the page to print, and the same to keep."""

LOG = "print-log.sqlite3"
"""What the print log of a folder is called in it: made of its files by `log gather`."""

LARGEST_LOOKED_AT = 5_000_000
"""Bytes of a file that is read without having been asked for."""


@dataclass(frozen=True, eq=False)
class Measured:
    """A file that holds a reading."""

    path: Path
    reading: Reading

    @property
    def name(self) -> str:
        return self.path.name


@dataclass(frozen=True, eq=False)
class Sheet:
    """A chart's layout, with what was measured of its print, the oldest first.

    Attributes
    ----------
    typing
        A reading that is being typed in, and not whole yet.
    """

    path: Path
    layout: Layout
    readings: tuple[Measured, ...] = ()
    typing: Measured | None = None

    @property
    def printed(self) -> datetime | None:
        """When somebody marked it as printed: a small file of that name says so."""
        mark = printed_mark(self.path)
        try:
            return (
                datetime.fromisoformat(mark.read_text("utf-8").strip()) if _is_file(mark) else None
            )
        except (OSError, ValueError):
            return None

    @property
    def stem(self) -> str:
        return self.path.stem

    @property
    def through(self) -> str | None:
        """The title of the correction that it is sent through; None for a print without one."""
        return self.layout.fields.get("CHART_THROUGH")

    @property
    def files(self) -> tuple[Path, ...]:
        """What to print, what to keep, and the layout, as far as they are there."""
        pages = sorted(
            one
            for one in self.path.parent.glob(f"{glob.escape(self.stem)}-[0-9].tif")
            if not one.with_suffix(".txt").exists()
        )
        beside = [self.path.with_suffix(ending) for ending in PRINTED]
        return tuple(path for path in (*pages, *beside, self.path) if _is_file(path))


@dataclass(frozen=True, eq=False)
class Made:
    """A correction's folder."""

    path: Path
    correction: Correction


@dataclass(frozen=True, eq=False)
class Paper:
    """One printer and paper: a folder, or those files of a folder that state one paper.

    Attributes
    ----------
    key
        What it is called in addresses.
    sheets, loose, corrections
        Each the oldest first; `loose` are readings that belong to no sheet here.
    """

    key: str
    folder: Path
    name: str
    sheets: tuple[Sheet, ...] = ()
    loose: tuple[Measured, ...] = ()
    corrections: tuple[Made, ...] = ()

    @property
    def readings(self) -> tuple[Measured, ...]:
        """All readings, the oldest first."""
        of_sheets = [one for sheet in self.sheets for one in sheet.readings]
        return tuple(sorted((*of_sheets, *self.loose), key=lambda one: _age(one.path)))

    @property
    def diary(self) -> tuple[Sheet | Made | Path, ...]:
        """Sheets, corrections and corrected pictures, in the order in which they were made."""
        prints = [one for picture in pictures(self.folder) for one in made_of(picture)]
        moments: list[tuple[tuple[int, str], Sheet | Made | Path]] = [
            *((_age(one.path), one) for one in self.sheets),
            *((_age(one.path / JSON), one) for one in self.corrections),
            *((_age(one), one) for one in prints),
        ]
        return tuple(one for _, one in sorted(moments, key=itemgetter(0)))

    def sheet_of(self, measured: Measured) -> Sheet | None:
        """The sheet that a reading is of."""
        return next((one for one in self.sheets if measured in one.readings), None)

    def correction_through(self, sheet: Sheet) -> Made | None:
        """The correction that a sheet was sent through, if it is here."""
        return next(
            (
                one
                for one in reversed(self.corrections)
                if sheet.through and same_name(one.correction.title, sheet.through)
            ),
            None,
        )


def papers(root: Path) -> tuple[Paper, ...]:
    """Find all papers: those of the folder's own files, then one for each folder in it."""
    inner = [_paper(folder) for folder in _folders(root)]
    shown = [one for one in inner if _holds(one) or not any(_entries(one.folder))]
    return (*_by_stated_paper(_paper(root)), *shown)


def _folders(root: Path) -> list[Path]:
    return [
        entry
        for entry in sorted(_entries(root), key=lambda one: one.name.casefold())
        if entry.is_dir() and not is_correction(entry) and not _is_file(entry / PAGE)
    ]


def unread(root: Path) -> Iterator[Path]:
    """Yield corrections, and files called as readings are, that by themselves cannot be read.

    What greyscale wrote for another purpose, as a glazing, is none of them.
    """
    for one in (one for folder in (root, *_folders(root)) for one in _entries(folder)):
        if is_correction(one):
            if read_made(one) is None:
                yield one
        elif one.suffix.lower() in ENDINGS and one.is_file() and look(one) is None:
            found = one.stat()
            if not _is_made(one, (found.st_mtime_ns, found.st_size)):
                yield one


def paper_of(root: Path, key: str) -> Paper | None:
    """Find a paper by its key; an address never becomes a path."""
    return next((one for one in papers(root) if one.key == key), None)


def is_correction(folder: Path) -> bool:
    """Say whether a folder is a correction's."""
    return _is_file(folder / JSON)


def printed_mark(layout: Path) -> Path:
    """Where it is kept when a chart left the printer: a time, beside its layout."""
    return layout.with_suffix(".printed")


def look(path: Path) -> Reading | Layout | None:
    """Read what a file holds; None where it is neither a reading nor a layout."""
    state = _state(path)
    return None if state is None else _look(path, state)


def read_made(folder: Path) -> Correction | None:
    """Read a correction from its folder; None where it is damaged."""
    state = _state(folder / JSON)
    return None if state is None else _read_made(folder, state)


def pictures(folder: Path) -> tuple[Path, ...]:
    """Find the pictures in a folder: no charts, nor what was made of a picture."""
    found = [one for one in _entries(folder) if one.suffix.lower() in PICTURES and _is_file(one)]
    own = [one for one in found if not _is_made(one, (one.stat().st_mtime_ns, one.stat().st_size))]
    return tuple(sorted(own, key=lambda one: one.name.casefold()))


def made_of(picture: Path) -> tuple[Path, ...]:
    """Find what was made of a picture: corrected ones, by their names, the oldest first."""
    beside = [one for one in _entries(picture.parent) if one.stem.startswith(f"{picture.stem}-")]
    made = {one for one in beside if one.suffix.lower() in PICTURES and _is_file(one)}
    return tuple(sorted(made - set(pictures(picture.parent)), key=_age))


@functools.lru_cache(2048)
def _of_chart(reading: Reading, layout: Layout) -> Reading:
    return told_what_it_lacks(reading, layout)


def patches_in_common(layout: Layout, reading: Reading) -> int:
    """Count the patches of a reading that the layout has with the same device values."""
    sent = dict(zip(layout.ids, layout.device, strict=True))
    return sum(
        name in sent and bool(np.all(np.abs(sent[name] - values) < 10 * AXIS_TOLERANCE))
        for name, values in zip(reading.ids, reading.device, strict=True)
    )


def _paper(folder: Path) -> Paper:
    entries = [one for one in _entries(folder) if one.is_dir() or one.suffix.lower() in ENDINGS]
    files = sorted((one for one in entries if one.is_file()), key=_age)
    found = [(path, look(path)) for path in files]
    sheets = [Sheet(path, one) for path, one in found if isinstance(one, Layout)]
    readings = [Measured(path, one) for path, one in found if isinstance(one, Reading)]
    readings += _completed([path for path, one in found if one is None], sheets)
    readings.sort(key=lambda one: _age(one.path))
    typing = {
        one.reading.fields[TYPED_FROM]: one for one in readings if TYPED_FROM in one.reading.fields
    }
    begun = {sheet.path: _begun(sheet, typing) for sheet in sheets}
    readings = [one for one in readings if one not in begun.values()]
    owners = [sheet_for(one, sheets) for one in readings]
    made = [Made(one, correction) for one in entries if (correction := read_made(one)) is not None]
    made.sort(key=lambda one: (one.correction.created.timestamp(), one.path.name))
    return Paper(
        key=folder.name,
        folder=folder,
        name=folder.name,
        sheets=tuple(
            Sheet(
                sheet.path,
                sheet.layout,
                tuple(
                    Measured(one.path, _of_chart(one.reading, sheet.layout))
                    for one, own in zip(readings, owners, strict=True)
                    if own is sheet
                ),
                begun[sheet.path],
            )
            for sheet in sheets
        ),
        loose=tuple(one for one, own in zip(readings, owners, strict=True) if own is None),
        corrections=tuple(made),
    )


def _begun(sheet: Sheet, typing: dict[str, Measured]) -> Measured | None:
    """The reading that is being typed in from a sheet's layout, if it is not whole."""
    found = typing.get(layout_mark(sheet.layout))
    return None if found is None or len(found.reading) >= len(sheet.layout) else found


def sheet_for(measured: Measured, sheets: list[Sheet]) -> Sheet | None:
    """Find the sheet that a reading is of, by its device values.

    Of several alike it is the one that it names, or is called by; else the last that had been made
    when it was measured.
    """
    reading, stem = measured.reading, measured.path.stem
    alike = [
        sheet
        for sheet in sheets
        if 2 * patches_in_common(sheet.layout, reading) > max(len(reading), len(sheet.layout))
    ]
    sent = reading.sent_through
    told = [one for one in alike if sent and one.through and same_name(one.through, sent)]
    named = [one for one in told or alike if stem.startswith(f"{one.stem}-")]
    made = [one for one in told or alike if _age(one.path) <= _age(measured.path)]
    chosen = named or made or told or alike
    return max(
        chosen, key=lambda one: (len(one.stem) if named else 0, _age(one.path)), default=None
    )


def _completed(unread: list[Path], sheets: list[Sheet]) -> Iterator[Measured]:
    """Read files without device values by the layout of the sheet that they are called by."""
    for path in unread:
        for sheet in sheets:
            if path.stem.startswith(f"{sheet.stem}-"):
                state = (_state(path), _state(sheet.path))
                reading = None if None in state else _look(path, state, sheet.path)
                if isinstance(reading, Reading):
                    yield Measured(path, reading)
                    break


def _by_stated_paper(whole: Paper) -> tuple[Paper, ...]:
    """Part a folder of loose files by the paper that its readings state.

    Of a chart that was printed on several papers each has its own readings; the first paper has all
    charts and corrections.
    """
    if not _holds(whole):
        return ()
    of_sheets = [one for sheet in whole.sheets for one in sheet.readings]
    own = [one.reading.paper for one in of_sheets]
    names = [one.reading.paper or "" for one in (*of_sheets, *whole.loose)]
    stated: list[str] = []
    for name in names:
        # One paper, however its name is written.
        if not any(_same(name, other) for other in stated):
            stated.append(name)
    main = next((name for name in own if name), stated[0] if stated else "")
    # What a sheet's reading leaves unsaid is taken to be of the first paper, a loose one's not.
    others = [
        name for name in stated
        if not _same(name, main) and (name or any(not one.reading.paper for one in whole.loose))
    ]  # fmt: skip

    def is_of(one: Measured, name: str, unsaid: str) -> bool:
        return _same(one.reading.paper or unsaid, name)

    def part(name: str) -> Paper:
        sheets = tuple(
            replace(sheet, readings=tuple(
                one for one in sheet.readings if is_of(one, name, unsaid=main)
            ))
            for sheet in whole.sheets
        )  # fmt: skip
        first, address = name == main, re.sub(r"[^\w .,-]+", "-", name) or "-"
        return Paper(
            key=f"~{address}",
            folder=whole.folder,
            name=name or (whole.name if first else "paper not stated"),
            sheets=sheets if first else tuple(sheet for sheet in sheets if sheet.readings),
            loose=tuple(one for one in whole.loose if is_of(one, name, unsaid="")),
            corrections=whole.corrections if first else (),
        )

    return tuple(part(name) for name in (main, *others))


def _same(one: str, other: str) -> bool:
    return one == other or same_name(one, other)


def _holds(paper: Paper) -> bool:
    return bool(paper.sheets or paper.loose or paper.corrections)


def _entries(folder: Path) -> Iterator[Path]:
    """Yield what lies in a folder and is no link, nor hidden."""
    try:
        with os.scandir(folder) as entries:
            found = [Path(one.path) for one in entries if not one.is_symlink()]
    except OSError:
        return
    yield from (one for one in found if not one.name.startswith("."))


def _age(path: Path) -> tuple[int, str]:
    try:
        return path.stat().st_mtime_ns, path.name
    except OSError:
        return 0, path.name


def _is_file(path: Path) -> bool:
    return path.is_file() and not path.is_symlink()


def _state(path: Path) -> tuple[int, int, int] | None:
    """Tell a file as it is now from what it was or will be; None: not to be read."""
    if not _is_file(path):
        return None
    found = path.stat()
    small = found.st_size <= LARGEST_LOOKED_AT
    return (found.st_mtime_ns, found.st_size, found.st_ino) if small else None


@functools.lru_cache(2048)
def _look(path: Path, state: object, layout: Path | None = None) -> Reading | Layout | None:
    from greyscale.readings.layout import read_layout

    try:
        return read(path, layout=None if layout is None else read_layout(layout))
    except BadInput:
        pass
    try:
        return read_layout(path)
    except BadInput:
        return None


@functools.lru_cache(2048)
def _is_made(path: Path, state: object) -> bool:
    with path.open("rb") as file:
        return kind_of(file) is not None


@functools.lru_cache(64)
def _read_made(folder: Path, state: object) -> Correction | None:
    from greyscale.correction.folder import read_correction

    try:
        return read_correction(folder)
    except BadInput:
        return None
