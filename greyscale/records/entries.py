"""What the print log holds: an entry for each reading, correction, proof, print, note; files."""

from __future__ import annotations

import hashlib
import json
import math
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, fields, replace
from datetime import datetime
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any, TypeVar, cast, get_type_hints

from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.base.folders import files_together, temporary
from greyscale.base.plain_text import plain_text
from greyscale.base.results import MeasuredAs, PrintNames
from greyscale.records.print_log import PrintLog

if TYPE_CHECKING:
    from greyscale.correction.record import Correction
    from greyscale.readings.fields import Ramp
    from greyscale.readings.reading import Reading


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
        `greyscale.correction.sureness.PredictionError`; None where it was not.
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
    """A remark in a person's own words."""

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
        sources = log.connection.execute(
            "SELECT name, round, sha256 FROM correction_sources WHERE correction = ? "
            "ORDER BY position",
            (entry,),
        ).fetchall()
        of_file = (
            "SELECT entry FROM entry_files WHERE role = 'reading' AND sha256 = ? ORDER BY entry"
        )
        values[_SOURCES] = tuple(
            checked(SourceReading(**one, entries=tuple(file["entry"] for file in found)))
            for one in sources
            for found in [log.connection.execute(of_file, (one["sha256"],))]
        )
    if kind == VERIFICATION and _object(values["result"]) is None:
        raise TypeError("its result is not a JSON object")
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


# The files that the log keeps: each content once, and given back exactly as it was.

LARGEST_KEPT = 500_000_000
"""Bytes: no file of a reading, a layout or a correction is nearly as large."""


def keep_content(log: PrintLog, content: bytes) -> str:
    """Keep a file's content, if it is not there yet; give its SHA-256 in hexadecimal digits."""
    digest = hashlib.sha256(content).hexdigest()
    known = log.connection.execute("SELECT 1 FROM files WHERE sha256 = ?", (digest,)).fetchone()
    if known is None:
        log.connection.execute(
            "INSERT INTO files (sha256, size, packed) VALUES (?, ?, ?)",
            (digest, len(content), zlib.compress(content)),
        )
    return digest


def attach(log: PrintLog, entry: int, role: str, name: str, content: bytes) -> None:
    """Keep a file as one of an entry's."""
    log.connection.execute(
        "INSERT INTO entry_files (entry, role, name, sha256) VALUES (?, ?, ?, ?)",
        (entry, role, plain_text(name), keep_content(log, content)),
    )


def content_of(log: PrintLog, sha256: str) -> bytes:
    """Return a kept file's content.

    Raises
    ------
    BadInput
        If it is not what was kept: the log is damaged.
    """
    row = log.connection.execute(
        "SELECT size, packed FROM files WHERE sha256 = ?", (sha256,)
    ).fetchone()
    content = b"" if row is None else _unpacked(row["packed"], row["size"])
    if row is None or hashlib.sha256(content).hexdigest() != sha256:
        raise BadInput(
            f"is damaged: a kept file (sha256 {sha256[:12]}…) is no longer what it was; "
            "'greyscale log rescue -o NEW.sqlite3' saves all that is sound",
            log.path,
        )
    return content


def _unpacked(packed: bytes, size: int) -> bytes:
    """Unpack no more than was packed, so that a doctored log cannot fill the memory."""
    try:
        return zlib.decompressobj().decompress(packed, min(size, LARGEST_KEPT) + 1)
    except (zlib.error, TypeError, ValueError, OverflowError):
        # A damaged log may hold anything in any column: text for a size, or -1.
        return b""


# How readings and corrections come back out of the log, from the files that it keeps.

_LONGEST_NAME = 200
"""Bytes, of 255 that a name may have."""


@contextmanager
def unpacked(log: PrintLog, entry: Entry) -> Iterator[Path]:
    """Yield a folder with an entry's files while the block runs."""
    with temporary("greyscale-log-") as folder:
        for kept in entry.files:
            path = folder / _place(kept)
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content_of(log, kept.sha256))
        yield folder


def _place(kept: KeptFile) -> Path:
    """Say where in a folder a file goes: a layout may have the same name as its reading."""
    name = Path(safe_name(kept.name))
    return "layout" / name if kept.role == "layout" else name


def reading_of(log: PrintLog, entry: Entry) -> Reading:
    """Return a reading as it was read when it was added, with what was told since.

    Its `source` names the file and the entry.

    Raises
    ------
    BadInput
        If the entry is none of a reading, or its file can no longer be read.
    """
    # Who only lists entries waits for no file format to be imported.
    from greyscale.readings.assemble import ReadOptions
    from greyscale.readings.formats import readings_in
    from greyscale.readings.layout import read_layout

    details = entry.details
    if not isinstance(details, ReadingDetails):
        raise BadInput(f"entry {entry.id} is a {entry.kind}, not a reading", log.path)
    kept = {one.role: one for one in entry.files}
    if "reading" not in kept:
        raise BadInput(f"is damaged: entry {entry.id} has lost its file; add it again", log.path)
    name, layout = _place(kept["reading"]), None
    if "layout" in kept:
        with unpacked(log, entry) as folder:
            layout = read_layout(folder / _place(kept["layout"]))
    options = ReadOptions(cast("Ramp | None", details.ramp), None, layout)
    readings = readings_in(content_of(log, kept["reading"].sha256), name, options)
    if details.part >= len(readings):
        raise BadInput(f"the file of entry {entry.id} holds fewer readings than it did", log.path)
    return replace(
        readings[details.part],
        source=f"{name} (entry {entry.id})",
        **{what: getattr(entry, what) for what in TABLES},
        created=entry.moment if entry.moment_from in (STATED, TOLD) else None,
    )


def correction_of(log: PrintLog, entry: Entry) -> Correction:
    """Return a correction.

    Raises
    ------
    BadInput
        If the entry is none of a correction.
    """
    from greyscale.correction.folder import read_correction

    if not isinstance(entry.details, CorrectionDetails):
        raise BadInput(f"entry {entry.id} is a {entry.kind}, not a correction", log.path)
    with unpacked(log, entry) as folder:
        return read_correction(folder)


def write_files(log: PrintLog, entry: Entry, folder: Path | str) -> tuple[Path, ...]:
    """Write an entry's files as they were given, all of them or none.

    Raises
    ------
    BadInput
        If there are none, or a file of that name is there already and is another.
    """
    if not entry.files:
        raise BadInput(f"entry {entry.id} is a {entry.kind}: it has no files", log.path)
    contents = {_place(kept): content_of(log, kept.sha256) for kept in entry.files}
    target = Path(folder)
    for name, content in contents.items():
        if (target / name).exists() and (target / name).read_bytes() != content:
            raise BadInput("is there already and is another file; give a new folder", target / name)
    with files_together(target) as fresh:
        for name, content in contents.items():
            if not (target / name).exists():
                write_whole(fresh / name, content)
    return tuple(target / name for name in contents)


def safe_name(name: str) -> str:
    """Return the last part of a name, as a name within a folder, whatever an imported log says.

    What no file's name can hold is left out, and the middle of a name that is too long.

    Examples
    --------
    >>> safe_name("../../etc/ramp.txt"), safe_name("..\\\\ramp.txt"), safe_name("..")
    ('ramp.txt', 'ramp.txt', 'file')
    """
    plain = " ".join(plain_text(name).split())
    last = PureWindowsPath(PurePosixPath(plain).name).name
    while len(last.encode("utf-8")) > _LONGEST_NAME:
        last = last[: len(last) // 2 - 1] + last[len(last) // 2 + 1 :]
    return last if last.strip(". ") else "file"
