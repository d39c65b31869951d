"""How entries come into the log, or are completed where they are there already."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

from greyscale import __version__
from greyscale.base.errors import BadInput
from greyscale.base.json_output import plain
from greyscale.correction.as_json import correction_id
from greyscale.correction.folder import FIGURES, JSON, OWN, REPORT, REPORT_PDF, read_correction
from greyscale.correction.record import Correction
from greyscale.correction.verify import Verification, prediction_error
from greyscale.correction.widening import Learnt, learn
from greyscale.records.details import insert_details
from greyscale.records.entries import (
    CLOCK,
    CORRECTION,
    NOTE,
    STATED,
    TOLD,
    VERIFICATION,
    CorrectionDetails,
    Entry,
    NoteDetails,
    SourceReading,
    VerificationDetails,
)
from greyscale.records.find import entry_of
from greyscale.records.kept_files import attach, correction_of
from greyscale.records.names import TABLES, name_id
from greyscale.records.plain_name import plain_name
from greyscale.records.print_log import PrintLog

# How an entry comes into the log, or is completed where it is there already.


@dataclass(frozen=True)
class Stated:
    """What a person says about an entry when adding it; it goes before what a file says.

    Attributes
    ----------
    printer, paper, inks, settings
        Names.
    moment
        When it was measured, made, judged or noted.
    """

    printer: str | None = None
    paper: str | None = None
    inks: str | None = None
    settings: str | None = None
    moment: datetime | None = None


@dataclass(frozen=True)
class Added:
    """What adding did.

    Attributes
    ----------
    id, kind, name
        The entry's.
    new
        Whether it was not in the log before.
    changes
        What was filled in or put right in an entry that was there, as phrases.
    """

    id: int
    kind: str
    name: str
    new: bool
    changes: tuple[str, ...] = ()


def with_names_of(entry: Entry, told: Stated) -> Stated:
    """Return what is told, and where it names no printer, paper, inks or settings, the entry's."""
    return replace(
        told,
        printer=told.printer or entry.printer,
        paper=told.paper or entry.paper,
        inks=told.inks or entry.inks,
        settings=told.settings or entry.settings,
    )


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


def utc_now() -> str:
    """Return the date and time in UTC as the log keeps them."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def insert_entry(
    log: PrintLog,
    uid: str,
    kind: str,
    name: str,
    moment: tuple[datetime, str],
    names: Stated,
    *,
    added: str | None = None,
    version: str = __version__,
) -> int:
    """Insert what all kinds of entries have; give the entry's number.

    Parameters
    ----------
    moment
        When, and where that is known from.
    names
        Printer, paper, inks and settings.
    added, version
        When it came into a log first, and by which program; None is now.
    """
    cursor = log.connection.execute(
        "INSERT INTO entries (uid, kind, name, moment, moment_from, added, version, printer, "
        "paper, inks, settings) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            uid,
            kind,
            name,
            stamp(moment[0]),
            moment[1],
            utc_now() if added is None else added,
            version,
            *(name_id(log, what, getattr(names, what)) for what in TABLES),
        ),
    )
    return int(cursor.lastrowid or 0)


def complete(log: PrintLog, number: int, told: Stated) -> tuple[str, ...]:
    """Put what a person tells into an entry that is there.

    Returns
    -------
    What changed, as phrases.
    """
    changes = []
    for what, table in TABLES.items():
        name = getattr(told, what)
        if name is None:
            continue
        row = log.connection.execute(
            f"SELECT n.name FROM entries e LEFT JOIN {table} n ON n.id = e.{what} WHERE e.id = ?",
            (number,),
        ).fetchone()
        if row["name"] is None or plain_name(row["name"]) != plain_name(name):
            log.connection.execute(
                f"UPDATE entries SET {what} = ? WHERE id = ?", (name_id(log, what, name), number)
            )
            was = "" if row["name"] is None else f", was '{row['name']}'"
            changes.append(f"{what} '{name}'{was}")
    if told.moment is not None:
        row = log.connection.execute(
            "SELECT moment FROM entries WHERE id = ?", (number,)
        ).fetchone()
        if row["moment"] != stamp(told.moment):
            log.connection.execute(
                "UPDATE entries SET moment = ?, moment_from = ? WHERE id = ?",
                (stamp(told.moment), TOLD, number),
            )
            changes.append(f"time {stamp(told.moment)}, was {row['moment']}")
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
    text
        The words.
    told
        What printer, paper, inks, settings and time it belongs to; where it is about an entry,
        that entry's printer, paper, inks and settings by default.
    about
        An entry's number.

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
        moment = (datetime.now(), CLOCK) if told.moment is None else (told.moment, TOLD)
        name = note_name(text)
        number = insert_entry(log, uuid4().hex, NOTE, name, moment, names)
        insert_details(log, number, NoteDetails(text, about))
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
        number = _insert(log, uid, correction, told or Stated(), previous)
        for name, content in contents.items():
            attach(log, number, "correction", name, content)
        link_corrections(log)
    return Added(number, CORRECTION, correction.name, True)


def _insert(
    log: PrintLog, uid: str, correction: Correction, told: Stated, previous: int | None
) -> int:
    names = Stated(
        printer=told.printer or correction.printer,
        paper=told.paper or correction.paper_name,
        inks=told.inks,
        settings=told.settings or correction.settings,
    )
    moment = (correction.created, STATED)
    number = insert_entry(log, uid, CORRECTION, correction.name, moment, names)
    sources = correction.evidence.sources
    details = CorrectionDetails(
        identifier=correction_id(correction),
        round=correction.round,
        follows_name=correction.follows,
        follows=previous,
        condition=correction.condition,
        backing=correction.backing,
        observer=correction.observer,
        aim=correction.aim,
        neutral=correction.neutral,
        toning=correction.toning,
        sources=tuple(SourceReading(one.name, one.round, one.sha256) for one in sources),
        promised_mean_delta_Ch=correction.expectation.after_mean_delta_Ch,
        promised_max_delta_Ch=correction.expectation.after_max_delta_Ch,
    )
    insert_details(log, number, details)
    return number


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
        # The same reading may have been judged by several grades.
        "SELECT max(v.spread), max(v.needed) FROM verifications v "
        "JOIN entries e ON e.id = v.correction "
        "JOIN printers p ON p.id = e.printer WHERE v.spread + v.needed IS NOT NULL AND p.plain = ? "
        "GROUP BY v.reading, v.correction",
        (plain_name(printer),),
    ).fetchall()
    return learn([(float(row[0]), float(row[1])) for row in rows])


def add_verification(
    log: PrintLog,
    verification: Verification,
    result: Mapping[str, Any],
    *,
    reading: int,
    correction: int,
) -> Added:
    """Add what was found of a correction's print. The same again is the same entry.

    The print is scored against the promise that the correction had when it came into the log.

    Parameters
    ----------
    verification
        What was found.
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
        number = number_of(log, uid)
        if number is not None:
            return Added(number, VERIFICATION, name, False)
        names = Stated(
            print_entry.printer, print_entry.paper, print_entry.inks, print_entry.settings
        )
        number = insert_entry(log, uid, VERIFICATION, name, (datetime.now(), CLOCK), names)
        # Against what the log keeps, whatever has become of the correction's folder since.
        score = prediction_error(verification.after, correction_of(log, made))
        details = VerificationDetails(
            reading=reading,
            correction=correction,
            tolerance=after.tolerance,
            within_tolerance=verification.within_tolerance,
            mean_delta_Ch=after.mean_delta_Ch,
            max_delta_Ch=after.max_delta_Ch,
            result=json.dumps(plain(result), ensure_ascii=False),
            within_stated=score.within_stated,
            kept=score.as_stated,
            spread=score.spread,
            needed=score.needed,
        )
        insert_details(log, number, details)
    return Added(number, VERIFICATION, name, True)
