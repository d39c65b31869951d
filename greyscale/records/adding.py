"""How entries come into the log, or are completed where they are there already."""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from greyscale import __version__
from greyscale.analysis.what_next import PRINTER
from greyscale.base.errors import BadInput, name_key, same_name
from greyscale.base.files import sha256_of
from greyscale.base.plain_text import plain_text
from greyscale.base.results import filled, plain
from greyscale.correction.as_json import correction_id
from greyscale.correction.folder import FIGURES, JSON, OWN, REPORT, REPORT_PDF, read_correction
from greyscale.correction.record import Correction
from greyscale.correction.sureness import Learnt, learn, prediction_error
from greyscale.correction.verify import Verification
from greyscale.readings.reading import Reading
from greyscale.records.entries import (
    CLOCK,
    CORRECTION,
    DOUBTED,
    DRYING,
    NOTE,
    PRINT,
    STATED,
    TABLES,
    TOLD,
    VERIFICATION,
    CorrectionDetails,
    Details,
    DryingDetails,
    Entry,
    LoggedNames,
    NoteDetails,
    PrintDetails,
    SourceReading,
    VerificationDetails,
    attach,
    correction_of,
    doubts_of,
    insert_details,
    kind_of,
)
from greyscale.records.find import correction_called, entry_of
from greyscale.records.print_log import PrintLog

if TYPE_CHECKING:
    from greyscale.analysis.drying import Drying


# Printers, papers, inks and settings: names that are the same whatever their case and spaces.


def name_id(log: PrintLog, what: str, name: str | None) -> int | None:
    """Return the row of a name in one of `TABLES`, made if it is new; None for no name."""
    if name is None or not name.strip():
        return None
    table, plain = TABLES[what], name_key(name)
    log.connection.execute(
        f"INSERT INTO {table} (name, plain) VALUES (?, ?) ON CONFLICT (plain) DO NOTHING",
        (" ".join(plain_text(name).split()), plain),
    )
    found = log.connection.execute(f"SELECT id FROM {table} WHERE plain = ?", (plain,)).fetchone()
    return int(found["id"])


# How an entry comes into the log, or is completed where it is there already.


@dataclass(frozen=True)
class Stated(LoggedNames):
    """What a person says about an entry when adding it; it goes before what a file says."""

    moment: datetime | None = None


@dataclass(frozen=True)
class Added:
    """What adding did.

    Attributes
    ----------
    new
        Whether it was not in the log before.
    changes
        What was filled in or put right in an entry that was there, or is to be said of a new one,
        as phrases.
    """

    id: int
    kind: str
    name: str
    new: bool
    changes: tuple[str, ...] = ()


def with_names_of(entry: Entry | Reading, told: Stated) -> Stated:
    """Return what is told, and where it names no printer, paper, inks or settings, the entry's."""
    return replace(told, **{what: getattr(told, what) or getattr(entry, what) for what in TABLES})


def uid_of(*parts: object) -> str:
    """Return the name that an entry has in every log: the same parts, the same name.

    Examples
    --------
    >>> uid_of("note", 1)[:8], uid_of("note", 2)[:8]
    ('64fb90f3', 'ef822fda')
    """
    return hashlib.sha256("\n".join(map(str, parts)).encode("utf-8")).hexdigest()


def number_of(log: PrintLog, uid: str) -> int | None:
    """Return the number of an entry in this log, or None if it is not there."""
    row = log.connection.execute("SELECT id FROM entries WHERE uid = ?", (uid,)).fetchone()
    return None if row is None else int(row["id"])


def stamp(moment: datetime) -> str:
    """Return a date and time as the log keeps them: to the second, without an offset."""
    return moment.replace(tzinfo=None).isoformat(timespec="seconds")


def _when(told: Stated) -> tuple[datetime, str]:
    """Return when it was, and where that is known from."""
    return (datetime.now(), CLOCK) if told.moment is None else (told.moment, TOLD)


def utc_now() -> str:
    """Return the date and time in UTC as the log keeps them."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def insert_entry(
    log: PrintLog,
    uid: str,
    name: str,
    moment: tuple[datetime, str],
    names: Stated,
    details: Details,
    *,
    added: str | None = None,
    version: str = __version__,
) -> int:
    """Insert an entry, its files apart; give its number.

    Parameters
    ----------
    moment
        When, and where that is known from.
    added, version
        When it came into a log first, and by which program; None is now.
    """
    cursor = log.connection.execute(
        "INSERT INTO entries (uid, kind, name, moment, moment_from, added, version, printer, "
        "paper, inks, settings) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            uid,
            kind_of(details),
            name,
            stamp(moment[0]),
            moment[1],
            utc_now() if added is None else added,
            version,
            *(name_id(log, what, getattr(names, what)) for what in TABLES),
        ),
    )
    number = int(cursor.lastrowid or 0)
    insert_details(log, number, details)
    return number


def complete(log: PrintLog, number: int, told: Stated) -> tuple[str, ...]:
    """Put what a person tells into an entry that is there.

    Returns
    -------
    What changed, as phrases.
    """
    entry, changes = entry_of(log, number), []
    for what in TABLES:
        name, before = getattr(told, what), getattr(entry, what)
        if name is not None and (before is None or not same_name(before, name)):
            log.connection.execute(
                f"UPDATE entries SET {what} = ? WHERE id = ?", (name_id(log, what, name), number)
            )
            changes.append(f"{what} '{name}'" + ("" if before is None else f", was '{before}'"))
    if told.moment is not None and stamp(told.moment) != stamp(entry.moment):
        log.connection.execute(
            "UPDATE entries SET moment = ?, moment_from = ? WHERE id = ?",
            (stamp(told.moment), TOLD, number),
        )
        changes.append(f"time {stamp(told.moment)}, was {stamp(entry.moment)}")
    return tuple(changes)


# How a note comes into the log.

_NAME = 60
"""Letters of a note that stand for its name."""


def add_note(
    log: PrintLog, text: str, told: Stated | None = None, *, about: int | None = None
) -> Added:
    """Add a note, in a person's own words.

    Parameters
    ----------
    told
        What printer, paper, inks, settings and time it belongs to; where it is about an entry,
        that entry's printer, paper, inks and settings by default.

    Raises
    ------
    BadInput
        If it says nothing, or there is no such entry.
    """
    if not text.strip():
        raise BadInput("the note is empty; write what is to be remembered", "--note")
    told = told or Stated()
    with log.writing():
        names = told if about is None else with_names_of(entry_of(log, about), told)
        name = note_name(text)
        details = NoteDetails(text, about)
        number = insert_entry(log, uuid4().hex, name, _when(told), names, details)
    return Added(number, NOTE, name, True)


def note_name(text: str) -> str:
    """Return the beginning of a note on one line.

    Examples
    --------
    >>> note_name("New black ink.\\nThe old one had run dry.")
    'New black ink. The old one had run dry.'
    """
    line = " ".join(text.split())
    return line if len(line) <= _NAME else line[: _NAME - 1].rstrip() + "…"


# How corrections come into the log: with their files, and which they follow.

KEPT = OWN - {REPORT, REPORT_PDF, FIGURES}
"""Of a correction's folder: what is needed to use it, and to go on from it."""


def is_correction(path: Path | str) -> bool:
    """Say whether a path is a correction's folder, or the `correction.json` in it."""
    given = Path(path)
    return given.name == JSON or os.path.isfile(given / JSON)


def add_correction(
    log: PrintLog, folder: Path | str, told: Stated | None = None, *, previous: int | None = None
) -> Added:
    """Add a correction; one that is there already is completed by what is told.

    Parameters
    ----------
    folder
        The correction's folder, or its `correction.json`, which is enough to go on from it.
    told
        What goes before what the correction says.
    previous
        Entry of the correction that it follows; None looks for it by name and round.

    Raises
    ------
    BadInput
        If there is no correction, or it is damaged.
    """
    correction = read_correction(folder)
    given = Path(folder)
    paths = [given / name for name in sorted(KEPT)] if given.is_dir() else [given]
    contents = {path.name: path.read_bytes() for path in paths if path.is_file()}
    if not given.is_dir():
        contents = {JSON: contents[given.name]}
    uid = uid_of(CORRECTION, correction_id(correction))
    with log.writing():
        number = number_of(log, uid)
        if number is not None:
            changes = complete(log, number, told or Stated())
            return Added(number, CORRECTION, correction.name, False, changes)
        said = told or Stated()
        named = {
            what: getattr(said, what) or getattr(correction, what)
            for what in ("printer", "paper", "settings")
        }
        before = correction_called(log, correction.title, named)
        number = _insert(log, uid, correction, replace(said, **named), previous)
        for name, content in contents.items():
            attach(log, number, "correction", name, content)
        link_corrections(log)
    remarks = () if before is None else (
        f"entry {before} has the same name, and no chart tells which of both it was sent through: "
        "'greyscale correct --name' gives another",
    )  # fmt: skip
    return Added(number, CORRECTION, correction.name, True, remarks)


def _insert(
    log: PrintLog, uid: str, correction: Correction, told: Stated, previous: int | None
) -> int:
    moment = (correction.created, STATED)
    sources = correction.evidence.sources
    known = [one.sha256 for one in sources if one.sha256 is not None]
    # The last entry of a reading with one of these contents.
    read = log.connection.execute(
        "SELECT max(entry) AS entry FROM entry_files WHERE role = 'reading' AND sha256 IN "
        f"({', '.join('?' * len(known))})",
        known,
    ).fetchone()["entry"]
    names = told if read is None else with_names_of(entry_of(log, int(read)), told)
    details = filled(
        CorrectionDetails,
        correction,
        identifier=correction_id(correction),
        follows_name=correction.follows,
        follows=previous,
        sources=tuple(SourceReading(one.name, one.round, one.sha256) for one in sources),
        promised_mean_delta_Ch=correction.expectation.after_mean_delta_Ch,
        promised_max_delta_Ch=correction.expectation.after_max_delta_Ch,
    )
    return insert_entry(log, uid, correction.name, moment, names, details)


def name_as(log: PrintLog, number: int, other: int) -> None:
    """Fill in the printer and paper of another entry, where one names none."""
    own, known = entry_of(log, number), entry_of(log, other)
    complete(
        log, number, Stated(printer=own.printer or known.printer, paper=own.paper or known.paper)
    )


def link_corrections(log: PrintLog) -> None:
    """Find which correction follows which, where that was not told.

    The one before has the name that the later gives, the round before, and was made earlier;
    of several it is the last that was made.
    """
    log.connection.execute(
        """
        UPDATE corrections SET follows = (
            SELECT before.entry
            FROM corrections before
            JOIN entries b ON b.id = before.entry
            JOIN entries e ON e.id = corrections.entry
            WHERE b.name = corrections.follows_name
              AND before.round = corrections.round - 1
              AND b.moment <= e.moment
              AND b.printer IS e.printer AND b.paper IS e.paper
            ORDER BY b.moment DESC, b.id DESC
            LIMIT 1
        )
        WHERE follows IS NULL AND follows_name IS NOT NULL
        """
    )


def learnt_of(log: PrintLog, printer: str) -> Learnt | None:
    """What the scored proofs of a printer, on all papers, say of its corrections' uncertainty."""
    rows = log.connection.execute(
        # The same reading may have been judged by several grades. An earlier program's scores took
        # for the model's what sheets differ by.
        f"SELECT max(v.spread), max(v.needed), {DOUBTED} FROM verifications v "
        "JOIN entries e ON e.id = v.correction "
        "JOIN printers p ON p.id = e.printer WHERE v.spread + v.needed IS NOT NULL AND p.plain = ? "
        "AND CASE WHEN json_valid(v.result) "
        "THEN json_type(v.result, '$.prediction_error.within_sheets') IS NOT NULL END "
        "GROUP BY v.reading, v.correction",
        (name_key(printer),),
    ).fetchall()
    # Of a doubted proof the printer may be to blame, and else it is of another print.
    own = [row for row in rows if not {*doubts_of(row[2])} - {PRINTER}]
    return learn([(float(row[0]), float(row[1])) for row in own])


def add_verification(
    log: PrintLog,
    verification: Verification,
    result: Mapping[str, Any],
    *,
    reading: int,
    correction: int,
) -> Added:
    """Add what was found of a correction's print. The same again is the same entry, scored anew.

    The print is scored against the promise that the correction had when it came into the log.

    Parameters
    ----------
    result
        The same as plain data, schema "greyscale/verification/1".
    reading, correction
        Entries of the print and of the correction.
    """
    after = verification.after.neutrality
    with log.writing():
        print_entry, made = entry_of(log, reading), entry_of(log, correction)
        uid = uid_of(VERIFICATION, print_entry.uid, made.uid, after.tolerance)
        name = f"{made.name}, round {verification.round}"
        # Against what the log keeps, whatever has become of the correction's folder since.
        score = prediction_error(verification.after, correction_of(log, made))
        details = filled(
            VerificationDetails,
            verification,
            after,
            score,
            reading=reading,
            correction=correction,
            result=json.dumps(plain(result), ensure_ascii=False),
        )
        known = number_of(log, uid)
        if known is not None:
            # An earlier program may have scored it otherwise.
            log.connection.execute(f"DELETE FROM {VERIFICATION}s WHERE entry = ?", (known,))
            insert_details(log, known, details)
            return Added(known, VERIFICATION, name, False)
        names = with_names_of(print_entry, Stated())
        number = insert_entry(log, uid, name, _when(names), names, details)
    return Added(number, VERIFICATION, name, True)


# How a print comes into the log: what was printed, through what, and which copy it is.

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


def refuse_other_names(told: Stated | Reading, correction: Entry, source: Path | str) -> None:
    """Refuse what tells of another printer or paper than its correction is for."""
    for what in ("printer", "paper"):
        found, wanted = getattr(told, what), getattr(correction, what)
        if found and wanted and not same_name(found, wanted):
            raise BadInput(
                f"the {what} is '{found}', but the correction '{correction.name}' (entry "
                f"{correction.id}) is for '{wanted}'; give the correction that it was printed "
                "through",
                source,
            )


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
    uncorrected: bool = False,
) -> Added:
    """Add a print of a file. A numbered copy is there once; the same again is the same entry.

    Parameters
    ----------
    path
        The picture or the chart, as it went to the printer.
    told
        Printer, paper, inks, settings, when it was printed; where a correction is named, its names
        by default.
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
    moment, said = _when(told), told
    if correction is not None:
        refuse_other_names(told, entry_of(log, correction), path)
        told = with_names_of(entry_of(log, correction), told)
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
        before = _of_title(log, title)
        # An entry has one name in all logs, also in those of earlier programs: it is made of the
        # title as it was spelt first, by the rule that these had.
        spelt = before[0]["title"] if before else title
        uid = uid_of(PRINT, " ".join(plain_text(spelt).split()).casefold(), *same)
        # Earlier programs took one title in two spellings for two: each copy is there all the same.
        copies = {(row["copy"], row["edition"]): int(row["entry"]) for row in reversed(before)}
        known = copies.get(copy) if copy else None
        known = number_of(log, uid) if known is None else known
        if known is not None:
            changes = _completed(log, known, details, said, uncorrected)
            return Added(known, PRINT, name, False, changes)
        _refuse_another_edition(before, title, size)
        entry = insert_entry(log, uid, name, moment, told, details)
    return Added(entry, PRINT, name, True)


def _completed(
    log: PrintLog, known: int, now: PrintDetails, told: Stated, uncorrected: bool
) -> tuple[str, ...]:
    """Fill in what was not said of a print that is there; what was said stays."""
    entry = entry_of(log, known)
    there = entry.details
    assert isinstance(there, PrintDetails)

    def refuse(what: str, before: object, after: object) -> None:
        raise BadInput(
            f"entry {known} is '{entry.name}', with {what} '{before}', not '{after}'; nothing was "
            "changed. Say it as it is there, or, of a print made again, add a note: greyscale log "
            f"add --note TEXT --about {known}",
            log.path,
        )

    if uncorrected and there.correction is not None:
        refuse("correction", f"entry {there.correction}", "none")
    for what in TABLES:
        before, after = getattr(entry, what), getattr(told, what)
        if before and after and not same_name(before, after):
            refuse(what, before, after)
    if told.moment is not None and entry.moment_from == TOLD:
        before, after = (one.isoformat(" ", "minutes") for one in (entry.moment, told.moment))
        if before != after:
            refuse("time", before, after)
        told = replace(told, moment=None)
    changes = list(complete(log, known, told))
    for what in ("correction", "batch", "strip", "note"):
        before, after = getattr(there, what), getattr(now, what)
        if after is None or before == after:
            continue
        if before is not None:
            refuse(what, before, after)
        log.connection.execute(f"UPDATE prints SET {what} = ? WHERE entry = ?", (after, known))
        changes.append(f"{what} {f'entry {after}' if isinstance(after, int) else repr(after)}")
    if there.sha256 != now.sha256:
        raise BadInput(
            f"entry {known} is '{there.title}', copy {there.copy}/{there.edition}, of another file "
            f"({there.file}, SHA-256 {there.sha256[:12]}…); give that one, or another copy",
            now.file,
        )
    return tuple(changes)


def _of_title(log: PrintLog, title: str) -> list[sqlite3.Row]:
    return log.connection.execute(
        "SELECT entry, title, copy, edition, chart FROM prints WHERE name_key(title) = ? "
        "ORDER BY entry",
        (name_key(title),),
    ).fetchall()


def _refuse_another_edition(before: Iterable[sqlite3.Row], title: str, size: int | None) -> None:
    for row in before:
        if size is not None and row["edition"] not in (None, size):
            raise BadInput(
                f"the edition '{title}' has {row['edition']} copies (entry {row['entry']}), not "
                f"{size}; give the same size, or give another title",
                "--copy",
            )


def edition_of(log: PrintLog, title: str) -> tuple[int, ...]:
    """The entries of all prints of this title, numbered copies first, by their number."""
    rows = [row for row in _of_title(log, title) if not row["chart"]]
    rows.sort(key=lambda row: (row["copy"] is None, row["copy"] or 0, row["entry"]))
    return tuple(int(row["entry"]) for row in rows)


def add_drying(log: PrintLog, drying: Drying, told: Stated) -> Added | None:
    """Add after how long the paper that is told of is dry; None where that is not known."""
    if drying.settled is None:
        return None
    series = drying.series
    name = f"{told.paper or series.names[-1]}: dry after {drying.settled[1]:.1f} h"
    with log.writing():
        uid = uid_of(DRYING, *series.names, *series.hours.tolist(), *drying.settled, told.paper)
        known = number_of(log, uid)
        if known is not None:
            return Added(known, DRYING, name, False)
        details = DryingDetails(*drying.settled)
        entry = insert_entry(log, uid, name, _when(told), told, details)
    return Added(entry, DRYING, name, True)
