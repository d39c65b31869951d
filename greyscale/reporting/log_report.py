"""The print log: its list, one entry in full, and what an add or import did."""

from __future__ import annotations

from collections.abc import Sequence

from greyscale.analysis.trend import Match, grey_tones, match
from greyscale.base.errors import BadInput
from greyscale.base.plain_text import MISSING, fixed, joined, minute, signed, time_words
from greyscale.base.rests_on import supports
from greyscale.records.adding import Added, edition_of
from greyscale.records.entries import (
    MOMENT_FROM,
    STATED,
    CorrectionDetails,
    DryingDetails,
    Entry,
    NoteDetails,
    PrintDetails,
    ReadingDetails,
    VerificationDetails,
    correction_of,
    reading_of,
)
from greyscale.records.exchange import entry_data
from greyscale.records.find import entry_of
from greyscale.records.print_log import PrintLog
from greyscale.reporting.json_output import Data
from greyscale.reporting.page import Facts, Report, Section, Table, grounds_note


def log_data(entries: Sequence[Entry]) -> Data:
    """Return entries as plain data; they name each other by their number, `id`."""
    return {"schema": "greyscale/log/1", "entries": [_entry(entry) for entry in entries]}


def log_entry_data(entry: Entry) -> Data:
    """Return one entry as plain data."""
    return {"schema": "greyscale/log-entry/1", **_entry(entry)}


def _entry(entry: Entry) -> Data:
    return {"id": entry.id, **entry_data(entry, lambda number: number)}


# An edition in words: which copies there are, and whether this one matches the first.


def edition_facts(log: PrintLog, entry: Entry) -> list[tuple[str, str]]:
    """Return what the log knows of a print beside its own entry, as names and texts."""
    details = _print_details(entry)
    if details.chart:
        return []
    copies = [entry_of(log, number) for number in edition_of(log, details.title)]
    found = [("Edition", _edition(copies))] if len(copies) > 1 or details.copy else []
    if details.strip is None:
        return found
    try:
        return [*found, *_matches(log, entry, copies)]
    except BadInput as error:
        return [*found, ("Strip", f"cannot be compared: {error.message}")]


def _matches(log: PrintLog, entry: Entry, copies: list[Entry]) -> list[tuple[str, str]]:
    from greyscale.correction.sureness import prediction_error
    from greyscale.correction.verify import analyse_proof

    details = _print_details(entry)
    assert details.strip is not None
    reading = reading_of(log, entry_of(log, details.strip))
    level, lab = grey_tones(reading)
    found = []
    if details.correction is not None:
        correction = correction_of(log, entry_of(log, details.correction))
        apart = match(level, lab, level, correction.curve.predict(level))
        # Judged as every proof is.
        kept = prediction_error(analyse_proof(reading, correction), correction).kept
        how = "kept, as far as chance and what sheets differ by allow" if kept else "not kept"
        found.append(("Promise", f"{how}; it {match_words(apart, 'the promise')}"))
    first = next((one for one in copies if _print_details(one).strip), None)
    strip = None if first is None or first.id == entry.id else _print_details(first).strip
    if first is not None and strip is not None:
        other = grey_tones(reading_of(log, entry_of(log, strip)))
        name = (
            f"copy {_print_details(first).copy}"
            if _print_details(first).copy
            else f"entry {first.id}"
        )
        found.append(("Match", match_words(match(level, lab, *other), name)))
    return [*found, ("Rests on", grounds_note(supports("same-print", "delta-E00")))]


def match_words(found: Match, other: str) -> str:
    """Say whether a print matches another, or what differs.

    Examples
    --------
    >>> import numpy as np
    >>> apart = np.array([[0.1, 0.0, 0.0], [0.0, 0.2, 0.0]])
    >>> match_words(Match(np.array([0.2, 0.8]), apart, np.array([0.1, 0.27])), "copy 1")
    'matches copy 1 within ΔE00 0.3, over 2 tones'
    """
    worst = found.worst
    count = f"{len(found.level)} tone{'s' if len(found.level) > 1 else ''}"
    if found.matches:
        return (
            f"matches {other} within ΔE00 {fixed(float(found.delta_E00[worst]), 1)}, over {count}"
        )
    L, a, b = found.difference[worst].tolist()
    return (
        f"differs from {other} most at level {fixed(float(found.level[worst]))}, by ΔE00 "
        f"{fixed(float(found.delta_E00[worst]), 1)} (L* {signed(L, 1)}, a* {signed(a, 1)}, "
        f"b* {signed(b, 1)}), of {count}"
    )


def _edition(copies: list[Entry]) -> str:
    numbered = [one for one in copies if _print_details(one).copy]
    if not numbered:
        return f"{len(copies)} prints: {joined([f'entry {one.id}' for one in copies])}"
    numbers = joined([f"{_print_details(one).copy} (entry {one.id})" for one in numbered])
    word = "copy" if len(numbered) == 1 else "copies"
    others = len(copies) - len(numbered)
    without = f", and {others} without a number" if others else ""
    return f"{word} {numbers} of {_print_details(numbered[0]).edition}{without}"


def _print_details(entry: Entry) -> PrintDetails:
    assert isinstance(entry.details, PrintDetails)
    return entry.details


def added_words(added: Added) -> str:
    """Say what adding did.

    Examples
    --------
    >>> added_words(Added(12, "reading", "cotton rag, M1", True))
    "Entry 12: the reading 'cotton rag, M1' is in the print log."
    """
    what = f"Entry {added.id}: the {added.kind} '{added.name}'"
    if added.new:
        remarks = f"; {joined(list(added.changes))}" if added.changes else ""
        return f"{what} is in the print log{remarks}."
    changes = f"; now {joined(list(added.changes))}" if added.changes else ""
    return f"{what} was in the print log already{changes}."


def list_report(entries: Sequence[Entry], total: int) -> Report:
    """Return a line for each entry, the oldest first, of so many in the log."""
    head = ("entry", "when", "kind", "name", "printer", "paper", "in short")
    rows = tuple(
        (str(one.id), f"{one.moment:%Y-%m-%d}", one.kind, one.name, one.printer or MISSING,
         one.paper or MISSING, _in_short(one))
        for one in entries
    )  # fmt: skip
    shown = len(entries)
    counted = f"{total} {'entry' if total == 1 else 'entries'}."
    table = Table(head, rows, words=frozenset(range(1, len(head))), at_once=True)
    return Report(
        "Print log",
        "Entries of the print log",
        (counted if shown == total else f"{shown} of {counted}",),
        (Section("", (table,)),) if entries else (),
        named=False,
    )


def entry_report(entry: Entry, facts: Sequence[tuple[str, str]], written: Sequence[str]) -> Report:
    """Return an entry in full, with further facts: its analysis, entries that point to it."""
    return Report(
        "Print log",
        entry.name,
        (),
        (Section("", (Facts((*facts_of(entry), *facts)),)),),
        about=f"{entry.kind}, entry {entry.id}",
        made=tuple(f"Written: {path}" for path in written),
    )


def facts_of(entry: Entry) -> tuple[tuple[str, str], ...]:
    """Return what the log itself knows of an entry."""
    known_from = MOMENT_FROM.get(entry.moment_from, "as the log cannot tell any more")
    when = "" if entry.moment_from == STATED else f" ({known_from})"
    rows: tuple[tuple[str, str | None], ...] = (
        (_MOMENTS[entry.kind], minute(entry.moment) + when),
        ("Printer", entry.printer),
        ("Paper", entry.paper),
        ("Inks", entry.inks),
        ("Settings", entry.settings),
        *_details(entry),
        *(
            (("Files" if i == 0 else ""), f"{kept.name}, {kept.size} bytes, {kept.sha256[:16]}…")
            for i, kept in enumerate(entry.files)
        ),
        ("Added", f"{entry.added:%Y-%m-%d %H:%M} UTC, by greyscale {entry.version}"),
    )
    return tuple((name, text) for name, text in rows if text)


_MOMENTS = {
    "reading": "Measured", "correction": "Made", "verification": "Verified", "note": "Noted",
    "print": "Printed", "drying": "Found",
}  # fmt: skip


def _details(entry: Entry) -> tuple[tuple[str, str | None], ...]:
    details = entry.details
    if isinstance(details, ReadingDetails):
        spectra = "spectra" if details.spectral else "CIELAB only"
        return (
            ("Condition", details.condition or "not stated"),
            ("Backing", details.backing or "not stated"),
            ("Patches", f"{details.patches}, {spectra}, {details.observer}° observer"),
            ("Instrument", details.instrument),
            ("Ramp", details.ramp),
            ("Printed", _through(details)),
        )
    if isinstance(details, CorrectionDetails):
        sources = [
            f"'{one.name}' ({f'entry {one.entries[0]}' if one.entries else 'not in the log'})"
            for one in details.sources
        ]
        before = details.follows_name
        number = f" (entry {details.follows})" if details.follows else ""
        return (
            ("Round", str(details.round)),
            ("Follows", f"{before}{number}" if before else None),
            ("Aims", f"tone {details.aim}, {details.toning or f'neutral {details.neutral}'}"),
            ("Made from", joined(sources)),
            ("Identifier", details.identifier),
        )
    if isinstance(details, VerificationDetails):
        verdict = {"pass": "within", "fail": "outside"}.get(details.verdict, "in doubt whether in")
        return (
            ("Of", f"reading {details.reading}, through correction {details.correction}"),
            (
                "Found",
                f"mean ΔCh {fixed(details.mean_delta_Ch)}, largest {fixed(details.max_delta_Ch)}: "
                f"{verdict} the {details.tolerance} tolerance",
            ),
        )
    if isinstance(details, PrintDetails):
        sent = f"correction {details.correction}" if details.correction else "without correction"
        return (
            ("Copy", f"{details.copy} of {details.edition}" if details.copy else None),
            ("Chart" if details.chart else "Picture", f"{details.file}, {details.sha256[:16]}…"),
            ("Through", sent),
            ("Batch", details.batch),
            ("Strip", f"entry {details.strip}" if details.strip else None),
            ("Note", details.note),
        )
    if isinstance(details, DryingDetails):
        hours = (time_words(value) for value in (details.low, details.middle, details.high))
        low, middle, high = hours
        return (("Dry after", f"{middle} ({low} to {high})"),)
    return (("Note", details.text), ("About", f"entry {details.about}" if details.about else None))


def untold_words(entries: Sequence[Entry]) -> str:
    """Say of which readings nobody stated how they were printed, and how to state it."""
    shown = [str(one.id) for one in entries[:6]]
    numbers = joined([*shown, f"{len(entries) - 6} more"] if len(entries) > 6 else shown)
    one = len(entries) == 1
    return (
        f"{'Entry' if one else 'Entries'} {numbers} {'does' if one else 'do'} not state "
        "whether the chart was printed through a correction, and a trend compares like with like: "
        f"{'it is' if one else 'they are'} left out. Add the file again and say which: "
        "greyscale log add READING --correction none, or --correction FOLDER"
    )


def _through(details: ReadingDetails) -> str:
    if details.through is not None:
        return f"through correction {details.through}"
    return "without correction" if details.stated else "not stated whether through a correction"


def _in_short(entry: Entry) -> str:
    details = entry.details
    if isinstance(details, ReadingDetails):
        through = "" if details.through is None else f", through {details.through}"
        return f"{details.condition or MISSING}{through}"
    if isinstance(details, CorrectionDetails):
        follows = f", follows {details.follows}" if details.follows else ""
        return f"round {details.round}{follows}"
    if isinstance(details, VerificationDetails):
        return f"{details.verdict}, of {details.reading}"
    if isinstance(details, PrintDetails):
        through = f"through {details.correction}" if details.correction else ""
        what = "chart" if details.chart else ""
        return ", ".join(part for part in (what, through, details.batch) if part)
    if isinstance(details, DryingDetails):
        return f"dry after {time_words(details.middle)}"
    if isinstance(details, NoteDetails):
        return f"about {details.about}" if details.about else ""
    raise AssertionError(entry.kind)
