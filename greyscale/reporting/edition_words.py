"""An edition in words: which copies there are, and whether this one matches the first."""

from __future__ import annotations

from greyscale.analysis.same_print import Match, grey_tones, match
from greyscale.base.errors import BadInput
from greyscale.records.add_print import edition_of
from greyscale.records.entries import Entry, PrintDetails
from greyscale.records.find import entry_of
from greyscale.records.print_log import PrintLog
from greyscale.records.take_out import correction_of, reading_of
from greyscale.reporting.cast_words import joined
from greyscale.reporting.numbers import fixed, signed


def edition_facts(log: PrintLog, entry: Entry) -> list[tuple[str, str]]:
    """Give what the log knows of a print beside its own entry, as names and texts.

    Parameters
    ----------
    entry
        Of a print.
    """
    details = _details(entry)
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
    details = _details(entry)
    assert details.strip is not None
    level, lab = grey_tones(reading_of(log, entry_of(log, details.strip)))
    found = []
    if details.correction is not None:
        curve = correction_of(log, entry_of(log, details.correction)).curve
        kept = match(level, lab, level, curve.predict(level))
        found.append(("Promise", match_words(kept, "its promise")))
    first = next((one for one in copies if _details(one).strip), None)
    strip = None if first is None or first.id == entry.id else _details(first).strip
    if first is not None and strip is not None:
        other = grey_tones(reading_of(log, entry_of(log, strip)))
        name = f"copy {_details(first).copy}" if _details(first).copy else f"entry {first.id}"
        found.append(("Match", match_words(match(level, lab, *other), name)))
    return found


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
        f"differs from {other}: most at level {fixed(float(found.level[worst]))}, by ΔE00 "
        f"{fixed(float(found.delta_E00[worst]), 1)} (L* {signed(L, 1)}, a* {signed(a, 1)}, "
        f"b* {signed(b, 1)}), of {count}"
    )


def _edition(copies: list[Entry]) -> str:
    numbered = [one for one in copies if _details(one).copy]
    if not numbered:
        return f"{len(copies)} prints: {joined([f'entry {one.id}' for one in copies])}"
    numbers = joined([f"{_details(one).copy} (entry {one.id})" for one in numbered])
    word = "copy" if len(numbered) == 1 else "copies"
    others = len(copies) - len(numbered)
    without = f", and {others} without a number" if others else ""
    return f"{word} {numbers} of {_details(numbered[0]).edition}{without}"


def _details(entry: Entry) -> PrintDetails:
    assert isinstance(entry.details, PrintDetails)
    return entry.details
