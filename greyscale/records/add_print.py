"""How a print comes into the log: what was printed, through what, and which copy it is."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from greyscale.base.errors import BadInput
from greyscale.base.files import sha256_of
from greyscale.records.adding import (
    Added,
    Stated,
    insert_entry,
    number_of,
    uid_of,
    with_names_of,
)
from greyscale.records.details import insert_details
from greyscale.records.entries import CLOCK, DRYING, PRINT, TOLD, DryingDetails, PrintDetails
from greyscale.records.find import entry_of
from greyscale.records.plain_name import plain_name
from greyscale.records.print_log import PrintLog

if TYPE_CHECKING:
    from greyscale.analysis.drying import Drying

Copy = tuple[int, int]
"""The number of a print, and how many its edition has."""


def copy_of(text: str) -> Copy:
    """Return the number of a print and the size of its edition.

    Raises
    ------
    BadInput
        If it isn't written so, or there are not so many.

    Examples
    --------
    >>> copy_of("4/25")
    (4, 25)
    """
    number, _, size = text.partition("/")
    if not (number.strip().isdecimal() and size.strip().isdecimal()):
        raise BadInput(f"'{text}' is not a copy of an edition; write it as 4/25", "--copy")
    copy, edition = int(number), int(size)
    if not 1 <= copy <= edition < 100_000:
        raise BadInput(f"there is no copy {copy} of {edition}; number them from 1", "--copy")
    return copy, edition


def add_print(
    log: PrintLog,
    path: Path | str,
    told: Stated,
    *,
    title: str,
    copy: Copy | None = None,
    correction: int | None = None,
    batch: str | None = None,
    strip: int | None = None,
    note: str | None = None,
    chart: bool = False,
) -> Added:
    """Add a print of a file. A numbered copy is there once; the same again is the same entry.

    Parameters
    ----------
    path
        The picture or the chart, as it went to the printer.
    told
        Printer, paper, inks, settings, when it was printed; where a correction is named, its names
        by default.
    title
        Of the edition.
    correction, strip
        Entries of the correction, and of the reading of the control strip.

    Raises
    ------
    BadInput
        If there is no such file, or the copy or the edition contradicts what the log has.
    """
    digest = sha256_of(path)
    if digest is None:
        raise BadInput("there is no such file; give the picture that was printed", path)
    title = " ".join(title.split())
    if not title:
        raise BadInput("the title is empty; give the edition a name", "--title")
    number, size = copy or (None, None)
    moment = (datetime.now(), CLOCK) if told.moment is None else (told.moment, TOLD)
    told = told if correction is None else with_names_of(entry_of(log, correction), told)
    same = (f"{number}/{size}",) if copy else (digest, moment[0].isoformat(timespec="minutes"))
    details = PrintDetails(
        file=Path(path).name,
        sha256=digest,
        title=title,
        copy=number,
        edition=size,
        correction=correction,
        batch=batch,
        strip=strip,
        note=note,
        chart=chart,
    )
    name = f"{title}, {number}/{size}" if copy else title
    with log.writing():
        uid = uid_of(PRINT, plain_name(title), *same)
        known = number_of(log, uid)
        if known is not None:
            return Added(known, PRINT, name, False, _completed(log, known, details))
        _refuse_another_edition(log, title, size)
        entry = insert_entry(log, uid, PRINT, name, moment, told)
        insert_details(log, entry, details)
    return Added(entry, PRINT, name, True)


def _completed(log: PrintLog, known: int, now: PrintDetails) -> tuple[str, ...]:
    """Fill in what was not said of a print that is there; what was said stays."""
    there = entry_of(log, known).details
    assert isinstance(there, PrintDetails)
    changes = []
    for what in ("correction", "batch", "strip", "note"):
        before, after = getattr(there, what), getattr(now, what)
        if after is None or before == after:
            continue
        if before is not None:
            raise BadInput(
                f"entry {known} is '{there.title}', copy {there.copy}/{there.edition}, with "
                f"{what} '{before}', not '{after}'; a print made again gets a note: greyscale log "
                f"add --note TEXT --about {known}",
                log.path,
            )
        log.connection.execute(f"UPDATE prints SET {what} = ? WHERE entry = ?", (after, known))
        changes.append(f"{what} {f'entry {after}' if isinstance(after, int) else repr(after)}")
    if there.sha256 != now.sha256:
        raise BadInput(
            f"entry {known} is '{there.title}', copy {there.copy}/{there.edition}, of another file "
            f"({there.file}, SHA-256 {there.sha256[:12]}…); give that one, or another copy",
            now.file,
        )
    return tuple(changes)


def _refuse_another_edition(log: PrintLog, title: str, size: int | None) -> None:
    rows = log.connection.execute(
        "SELECT entry, edition FROM prints WHERE edition IS NOT NULL AND plain_name(title) = ?",
        (plain_name(title),),
    )
    for row in rows:
        if size is not None and row["edition"] != size:
            raise BadInput(
                f"the edition '{title}' has {row['edition']} copies (entry {row['entry']}), not "
                f"{size}; give the same size, or give another title",
                "--copy",
            )


def edition_of(log: PrintLog, title: str) -> tuple[int, ...]:
    """The entries of all prints of this title, numbered copies first, by their number."""
    rows = log.connection.execute(
        "SELECT entry FROM prints WHERE plain_name(title) = ? AND NOT chart "
        "ORDER BY copy IS NULL, copy, entry",
        (plain_name(title),),
    )
    return tuple(int(row["entry"]) for row in rows)


def add_drying(log: PrintLog, drying: Drying, told: Stated) -> Added | None:
    """Add after how long a paper is dry; None where that is not known.

    Parameters
    ----------
    told
        Printer, paper, inks and settings that it was found of.
    """
    if drying.settled is None:
        return None
    series = drying.series
    name = f"{told.paper or series.names[-1]}: dry after {drying.settled[1]:.1f} h"
    with log.writing():
        uid = uid_of(DRYING, *series.names, *series.hours.tolist(), *drying.settled, told.paper)
        known = number_of(log, uid)
        if known is not None:
            return Added(known, DRYING, name, False)
        moment = (datetime.now(), CLOCK) if told.moment is None else (told.moment, TOLD)
        entry = insert_entry(log, uid, DRYING, name, moment, told)
        insert_details(log, entry, DryingDetails(*drying.settled))
    return Added(entry, DRYING, name, True)
