"""Which readings were printed and measured alike, so that one can be compared with the next."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import partial

from greyscale.aims.tolerances import DEFAULT_TOLERANCE
from greyscale.analysis.analyse import analyse
from greyscale.analysis.trend import DatedAnalysis
from greyscale.base.errors import BadInput
from greyscale.base.nearest import name_key, same_name
from greyscale.records.entries import TABLES, Entry, ReadingDetails
from greyscale.records.find import entry_of
from greyscale.records.kept_files import correction_of, reading_of
from greyscale.records.print_log import PrintLog

UNKNOWN = "none"
"""Stands for what is not known, and for no correction, in options."""

_CHOICES = 12


def likeness(entry: Entry) -> dict[str, str]:
    """Return what must be the same of any reading that this one is compared with.

    By the names of the options that choose it, printer and paper to the correction that the chart
    was printed through; `UNKNOWN` where it is not known.
    """
    details = entry.details
    assert isinstance(details, ReadingDetails)
    how = ("condition", "backing", "observer", "ramp")
    found = {what: getattr(entry, what) for what in TABLES}
    found |= {what: getattr(details, what) for what in how} | {"correction": details.through}
    return {what: str(of or UNKNOWN) for what, of in found.items()}


def by_statement(entries: Iterable[Entry]) -> tuple[list[Entry], list[Entry]]:
    """Part readings into those of which it was said how they were printed, and the others."""
    told: list[Entry] = []
    untold: list[Entry] = []
    for entry in entries:
        assert isinstance(entry.details, ReadingDetails)
        (told if entry.details.stated else untold).append(entry)
    return told, untold


def groups(entries: Iterable[Entry]) -> list[tuple[Entry, ...]]:
    """Sort readings into groups that were printed and measured alike, the largest first."""
    found: dict[tuple[str, ...], list[Entry]] = {}
    for entry in entries:
        found.setdefault(tuple(map(name_key, likeness(entry).values())), []).append(entry)
    return sorted(map(tuple, found.values()), key=len, reverse=True)


def one_group(entries: Iterable[Entry], source: object) -> tuple[Entry, ...]:
    """Return readings that were all printed and measured alike.

    Raises
    ------
    BadInput
        If there is none, or there are several groups: saying how to choose one.
    """
    found = groups(entries)
    if not found:
        raise BadInput(
            "no reading in this print log is as asked for; 'greyscale log list --kind reading' "
            "shows what is in it",
            source,
        )
    if len(found) == 1:
        return found[0]
    differ = differing(found)
    choices = []
    for group in found[:_CHOICES]:
        own = likeness(group[0])
        options = " ".join(f"--{what} {shlex.quote(own[what])}" for what in differ)
        readings = "reading" if len(group) == 1 else "readings"
        choices.append(f"  {options}   ({len(group)} {readings})")
    if len(found) > _CHOICES:
        choices.append(f"  and {len(found) - _CHOICES} more")
    raise BadInput(
        "these readings were not all printed and measured alike; choose one line:",
        source,
        choices=choices,
    )


def has(entry: Entry, **wanted: str | None) -> bool:
    """Say whether a reading has what is asked for of its `likeness`; "none": what is unknown.

    Parameters
    ----------
    wanted
        By name: the whole text, whatever its case and spaces; None asks for nothing.
    """
    own = likeness(entry)
    return all(same_name(own[name], text) for name, text in wanted.items() if text is not None)


def notes_about(notes: Iterable[Entry], group: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Return the notes that belong to a group of readings, from the first one's day on.

    A note belongs to it unless it names another printer, paper, inks or settings.
    """
    first = min(entry.moment for entry in group).date()
    return tuple(
        note
        for note in notes
        if note.moment.date() >= first
        and all(
            getattr(note, what) is None
            or same_name(getattr(note, what), getattr(group[0], what) or "")
            for what in TABLES
        )
    )


def differing(found: Iterable[Sequence[Entry]]) -> tuple[str, ...]:
    """Name what several groups differ in."""
    each = [likeness(group[0]) for group in found]
    return tuple(what for what in each[0] if len({name_key(one[what]) for one in each}) > 1)


# The log's readings, analysed alike, as a trend needs them.


def dated_analyses(
    log: PrintLog,
    entries: Sequence[Entry],
    *,
    tolerance: str = DEFAULT_TOLERANCE,
    watched: Callable[[Sequence[Entry]], Iterable[Entry]] = iter,
) -> tuple[DatedAnalysis, ...]:
    """Analyse readings that were printed and measured alike.

    Prints made through a correction are held against that correction's own aims, all others
    against the usual ones: what is asked is whether they change, not whether they are good.

    Parameters
    ----------
    entries
        Of readings, one group of `greyscale.records.alike.groups`.
    tolerance
        The grade to judge by.
    watched
        Gives the entries one by one, as to show how far the work is.

    Raises
    ------
    BadInput
        If a reading can no longer be read, or has no ramp.
    """
    details = entries[0].details
    assert isinstance(details, ReadingDetails)
    if details.through is None:
        judged = partial(analyse, lights=(), tolerance=tolerance)
    else:
        from greyscale.correction.verify import analyse_proof

        through = correction_of(log, entry_of(log, details.through))
        judged = partial(analyse_proof, correction=through, tolerance=tolerance)
    return tuple(
        DatedAnalysis(
            entry.id, entry.moment, judged(replace(reading_of(log, entry), name=entry.name))
        )
        for entry in watched(entries)
    )
