"""What the print log holds: one entry for each reading, correction, proof, print and note."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import Any, TypeVar, get_type_hints

from greyscale.base.results import MeasuredAs, PrintNames
from greyscale.records.print_log import PrintLog

READING, CORRECTION, VERIFICATION, NOTE = "reading", "correction", "verification", "note"
PRINT, DRYING = "print", "drying"

KINDS = (READING, CORRECTION, VERIFICATION, PRINT, DRYING, NOTE)
"""The kinds of entries."""

TABLES = {"printer": "printers", "paper": "papers", "inks": "inks", "settings": "settings"}
"""The table that holds the names of each."""

STATED, TOLD, FILE, CLOCK = "stated", "told", "file", "clock"

MOMENT_FROM = {
    STATED: "as the file states",
    TOLD: "as told when it was added",
    FILE: "the date of the file, which states none itself",
    CLOCK: "when it was added",
}
"""Where the moment of an entry is known from."""


@dataclass(frozen=True)
class KeptFile:
    """A file that the log keeps.

    Attributes
    ----------
    role
        "reading", "layout" or "correction".
    name
        As it was called, without its folder.
    sha256
        Of its content, in hexadecimal digits.
    size
        Bytes.
    """

    role: str
    name: str
    sha256: str
    size: int


@dataclass(frozen=True)
class ReadingDetails(MeasuredAs):
    """What is known of a reading, beside the file itself.

    Attributes
    ----------
    part
        Which of the file's readings it is, from 0: one file may hold several conditions.
    ramp
        "K" or "CMY" where one was chosen, else None.
    condition, backing, observer, instrument
        As in `greyscale.readings.reading.Reading`.
    patches
        How many were measured.
    spectral
        Whether there are spectra.
    through
        Entry of the correction that the chart was printed through; None without one.
    stated
        Whether anybody said so; if not, nothing is known of how it was printed.
    """

    part: int
    ramp: str | None
    observer: str
    instrument: str | None
    patches: int
    spectral: bool
    through: int | None
    stated: bool


@dataclass(frozen=True)
class SourceReading:
    """A reading that a correction was made from.

    Attributes
    ----------
    name
        The reading's.
    round
        How many corrections lay between chart and printer (0: none, else the round).
    sha256
        Of its file; None where there was none.
    entries
        The log's entries of that file; () if it is not in the log.
    """

    name: str
    round: int
    sha256: str | None
    entries: tuple[int, ...] = ()


@dataclass(frozen=True)
class CorrectionDetails(MeasuredAs):
    """What is known of a correction, beside its files.

    Attributes
    ----------
    identifier
        Its own 16 hexadecimal digits, as in its files.
    round
        1 for a first correction, 2 for one that follows it.
    follows_name, follows
        Name and entry of the correction that it follows; None where there is none, or it is not
        in the log.
    condition, backing, observer, aim, neutral, toning
        As in `greyscale.correction.record.Correction`.
    sources
        The readings that it was made from.
    promised_mean_delta_Ch, promised_max_delta_Ch
        What it promised of a print when it was made; None where an earlier program added it.
    """

    identifier: str
    round: int
    follows_name: str | None
    follows: int | None
    observer: str
    aim: str
    neutral: str
    toning: str | None
    sources: tuple[SourceReading, ...] = ()
    promised_mean_delta_Ch: float | None = None
    promised_max_delta_Ch: float | None = None


@dataclass(frozen=True)
class VerificationDetails:
    """How a correction was found to have worked.

    Attributes
    ----------
    reading, correction
        Entries of the print that was measured and of the correction that it was made through.
    tolerance, within_tolerance, mean_delta_Ch, max_delta_Ch
        The grade, whether the print keeps it, and its ΔCh.
    result
        Everything that was found, as JSON ("greyscale/verification/1").
    within_stated, kept, spread, needed
        How the print was scored against the promise that the log keeps, unchanged, as in
        `greyscale.correction.verify.PredictionError`; None where it was not.
    """

    reading: int
    correction: int
    tolerance: str
    within_tolerance: bool
    mean_delta_Ch: float
    max_delta_Ch: float
    result: str = field(repr=False)
    within_stated: float | None = None
    kept: bool | None = None
    spread: float | None = None
    needed: float | None = None

    @property
    def verdict(self) -> str:
        """Whether the print keeps its grade: "pass", "fail" or, by its result, "cannot be told"."""
        if not doubts_of(self.result):
            return "pass" if self.within_tolerance else "fail"
        # Today none in doubt is within tolerance; the result says which of them misses it.
        told = (_object(self.result) or {}).get("verdict", "fail")
        return "cannot be told" if self.within_tolerance or told != "fail" else "fail"


_UNSOLVED = "Whether another round is worth it can be told once that is settled."


def doubts_of(result: object) -> tuple[str, ...]:
    """What a verification doubts, as `greyscale.correction.verify.Verification.doubted`.

    Earlier programs stored no doubts, and let what proves nothing be within tolerance; but they
    solved no further round of it, and said so in these words. What they doubted was the print.

    Parameters
    ----------
    result
        As it was stored, or `DOUBTED`; where it cannot be read, nothing is known to be in doubt.
    """
    told = _object(result) or {}
    doubts = told.get("doubted")
    if doubts is None:
        further = told.get("next_round")
        unsolved = isinstance(further, dict) and further.get("reason") == _UNSOLVED
        return ("proof",) if unsolved else ()
    return tuple(map(str, doubts)) if isinstance(doubts, list) else ()


DOUBTED = (
    "CASE WHEN json_valid(v.result) THEN json_object('doubted', json_extract(v.result, "
    "'$.doubted'), 'next_round', json_extract(v.result, '$.next_round')) END"
)
"""SQL: of the result of the verification `v`, what tells its doubts; it is long, and this short."""


def _object(text: object) -> dict[str, Any] | None:
    """A JSON object; None where it is none, or is nested too deep to be read."""
    try:
        found = json.loads(text) if isinstance(text, str) else None
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


@dataclass(frozen=True)
class NoteDetails:
    """A remark in a person's own words.

    Attributes
    ----------
    text
        The words.
    about
        The entry that it is about, or None.
    """

    text: str
    about: int | None


@dataclass(frozen=True)
class PrintDetails:
    """A print: of a picture, or a chart to be measured.

    Attributes
    ----------
    file, sha256
        Name of the file that was printed, and its content's SHA-256; the log doesn't keep it.
    title
        What the edition is called; a chart's name.
    copy, edition
        Its number, and how many there are to be; None where they weren't said.
    correction
        Entry of the correction that it was printed through; None without one.
    batch
        Of the paper.
    strip
        Entry of the reading of its control strip.
    note
        In a person's own words.
    chart
        Whether it is a chart.
    """

    file: str
    sha256: str
    title: str
    copy: int | None
    edition: int | None
    correction: int | None
    batch: str | None
    strip: int | None
    note: str | None
    chart: bool


@dataclass(frozen=True)
class DryingDetails:
    """After how many hours a print was found to be dry to measure: percentiles 5, 50 and 95."""

    low: float
    middle: float
    high: float


Details = (
    ReadingDetails
    | CorrectionDetails
    | VerificationDetails
    | NoteDetails
    | PrintDetails
    | DryingDetails
)


@dataclass(frozen=True, kw_only=True)
class LoggedNames(PrintNames):
    """What the log knows a print by; None where nobody said."""

    inks: str | None = None


@dataclass(frozen=True)
class Entry(LoggedNames):
    """One entry of the log.

    Attributes
    ----------
    id
        Its number in this log.
    uid
        Its name in every log it is copied to: hexadecimal digits.
    kind
        One of `KINDS`.
    name
        What it is called.
    moment
        When it was measured, made, judged or noted, by the clock of that place.
    moment_from
        Where that is known from: a key of `MOMENT_FROM`.
    added
        When it came into the log, UTC.
    version
        Of the program that added it.
    printer, paper, inks, settings
        What it is about, as far as that is known.
    files
        What the log keeps of it.
    details
        What only its kind has.
    """

    id: int
    uid: str
    kind: str
    name: str
    moment: datetime
    moment_from: str
    added: datetime
    version: str
    files: tuple[KeptFile, ...]
    details: Details


# What only one kind of entry has: how it is put into the tables, and taken out again.

_Made = TypeVar("_Made")

DETAILS: Mapping[str, type[Details]] = {
    READING: ReadingDetails,
    CORRECTION: CorrectionDetails,
    VERIFICATION: VerificationDetails,
    NOTE: NoteDetails,
    PRINT: PrintDetails,
    DRYING: DryingDetails,
}
"""The details of each kind of entry."""

POINTERS: Mapping[str, Mapping[str, str | None]] = {
    READING: {"through": CORRECTION},
    CORRECTION: {"follows": CORRECTION},
    VERIFICATION: {"reading": READING, "correction": CORRECTION},
    NOTE: {"about": None},
    PRINT: {"correction": CORRECTION, "strip": READING},
    DRYING: {},
}
"""The fields of each that are the number of another entry, and of which kind; None: of any."""

_SOURCES = "sources"


def kind_of(details: Details) -> str:
    """Return the kind of entry that has such details."""
    return next(kind for kind, made in DETAILS.items() if isinstance(details, made))


def insert_details(log: PrintLog, entry: int, details: Details) -> None:
    """Put an entry's details into the table of its kind: its columns are the fields."""
    kind = kind_of(details)
    names = [field.name for field in fields(details) if field.name != _SOURCES]
    log.connection.execute(
        f"INSERT INTO {kind}s (entry, {', '.join(names)}) VALUES (?{', ?' * len(names)})",
        (entry, *(getattr(details, name) for name in names)),
    )
    if isinstance(details, CorrectionDetails):
        log.connection.executemany(
            "INSERT INTO correction_sources (correction, position, name, round, sha256) "
            "VALUES (?, ?, ?, ?, ?)",
            [
                (entry, position, source.name, source.round, source.sha256)
                for position, source in enumerate(details.sources)
            ],
        )


def details_of(log: PrintLog, kind: str, entry: int) -> Details:
    """Return an entry's details.

    Raises
    ------
    KeyError, TypeError
        If there is no such kind, or there are none: the log is damaged.
    """
    # A damaged kind must not become part of a statement.
    made = DETAILS[kind]
    row = log.connection.execute(f"SELECT * FROM {kind}s WHERE entry = ?", (entry,)).fetchone()
    if row is None:
        raise TypeError("it has no details")
    values = {name: row[name] for name in row.keys() if name != "entry"}  # noqa: SIM118
    flags = [one.name for one in fields(made) if str(one.type).startswith("bool")]
    values |= {name: bool(values[name]) for name in flags if values[name] is not None}
    if kind == CORRECTION:
        values[_SOURCES] = _sources(log, entry)
    if kind == VERIFICATION:
        _refuse_no_object(values["result"])
    return checked(made(**values))


_HINTS: dict[type, dict[str, Any]] = {}


def checked(made: _Made) -> _Made:
    """Return a dataclass whose plain fields are of the types that they are declared to be.

    Raises
    ------
    TypeError
        Naming the field: a damaged database holds anything in any column.
    """
    kind = type(made)
    if kind not in _HINTS:
        _HINTS[kind] = get_type_hints(kind)
    for name, hint in _HINTS[kind].items():
        value = getattr(made, name)
        plain = not hasattr(hint, "__origin__")
        if plain and not isinstance(value, hint | int if hint is float else hint):
            raise TypeError(f"its '{name}' is {value!r}"[:80])
        if isinstance(value, float) and not math.isfinite(value):
            raise TypeError(f"its '{name}' is not a number")
    return made


def _refuse_no_object(text: object) -> None:
    """Refuse what is no JSON object.

    Raises
    ------
    TypeError
        Saying so.
    """
    if _object(text) is None:
        raise TypeError("its result is not a JSON object")


def _sources(log: PrintLog, correction: int) -> Sequence[SourceReading]:
    rows = log.connection.execute(
        "SELECT name, round, sha256 FROM correction_sources WHERE correction = ? ORDER BY position",
        (correction,),
    ).fetchall()
    return tuple(
        checked(SourceReading(**row, entries=_readings_of(log, row["sha256"]))) for row in rows
    )


def _readings_of(log: PrintLog, sha256: str | None) -> tuple[int, ...]:
    rows = log.connection.execute(
        "SELECT entry FROM entry_files WHERE role = 'reading' AND sha256 = ? ORDER BY entry",
        (sha256,),
    )
    return tuple(row["entry"] for row in rows)
