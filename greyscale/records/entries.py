"""What the print log holds: one entry for each reading, correction, proof, print and note."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

READING, CORRECTION, VERIFICATION, NOTE = "reading", "correction", "verification", "note"
PRINT, DRYING = "print", "drying"

KINDS = (READING, CORRECTION, VERIFICATION, PRINT, DRYING, NOTE)
"""The kinds of entries."""

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
class ReadingDetails:
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
    condition: str | None
    backing: str | None
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
class CorrectionDetails:
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
        As in `greyscale.correction.correct.Correction`.
    sources
        The readings that it was made from.
    promised_mean_delta_Ch, promised_max_delta_Ch
        What it promised of a print when it was made; None where an earlier program added it.
    """

    identifier: str
    round: int
    follows_name: str | None
    follows: int | None
    condition: str | None
    backing: str | None
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
        `greyscale.correction.verify.PredictionError` (`kept` is `as_stated` there); None where it
        was not.
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


@dataclass(frozen=True)
class Entry:
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
    printer: str | None
    paper: str | None
    inks: str | None
    settings: str | None
    files: tuple[KeptFile, ...]
    details: Details
