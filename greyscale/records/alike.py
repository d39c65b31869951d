"""Which readings were printed and measured alike, so that one can be compared with the next."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NeutralAim
from greyscale.aims.tolerances import DEFAULT_TOLERANCE
from greyscale.aims.tone import DEFAULT_SCALING, DEFAULT_TONE_AIM, ToneAim
from greyscale.analysis.analyse import analyse
from greyscale.analysis.trend import DatedAnalysis
from greyscale.base.errors import BadInput
from greyscale.base.nearest import name_key, same_name
from greyscale.correction.targets import neutral_aim_of, tone_aim_of
from greyscale.records.entries import TABLES, Entry, ReadingDetails
from greyscale.records.find import entry_of
from greyscale.records.kept_files import correction_of, reading_of
from greyscale.records.print_log import PrintLog

UNKNOWN = "none"
"""Stands for what is not known, and for no correction, in options."""

_CHOICES = 12


@dataclass(frozen=True)
class Likeness:
    """What must be the same of two readings; "" where it is not known.

    Attributes
    ----------
    printer, paper, inks, settings
        Without regard to case and spaces.
    condition, backing, observer, ramp
        As in `ReadingDetails`.
    through
        Entry of the correction that the chart was printed through; 0 without one.
    """

    printer: str
    paper: str
    inks: str
    settings: str
    condition: str
    backing: str
    observer: str
    ramp: str
    through: int


def likeness(entry: Entry) -> Likeness:
    """Say of a reading what must be the same of any that it is compared with."""
    details = entry.details
    assert isinstance(details, ReadingDetails)
    return Likeness(
        **{what: name_key(getattr(entry, what) or "") for what in TABLES},
        condition=details.condition or "",
        backing=name_key(details.backing or ""),
        observer=details.observer,
        ramp=details.ramp or "",
        through=details.through or 0,
    )


def by_statement(entries: Iterable[Entry]) -> tuple[list[Entry], list[Entry]]:
    """Part readings into those of which it was said how they were printed, and the others."""
    told: list[Entry] = []
    untold: list[Entry] = []
    for entry in entries:
        assert isinstance(entry.details, ReadingDetails)
        (told if entry.details.stated else untold).append(entry)
    return told, untold


def groups(entries: Iterable[Entry]) -> Mapping[Likeness, tuple[Entry, ...]]:
    """Sort readings into groups that were printed and measured alike, the largest first."""
    found: dict[Likeness, list[Entry]] = {}
    for entry in entries:
        found.setdefault(likeness(entry), []).append(entry)
    return {key: tuple(found[key]) for key in sorted(found, key=lambda key: -len(found[key]))}


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
            "no reading in this print log is as asked for; greyscale log list --kind reading "
            "shows what is in it",
            source,
        )
    if len(found) == 1:
        return next(iter(found.values()))
    differ = differing(found)
    choices = [
        f"  {_options(key, group[0], differ)}   ({len(group)} "
        f"{'reading' if len(group) == 1 else 'readings'})"
        for key, group in list(found.items())[:_CHOICES]
    ]
    if len(found) > _CHOICES:
        choices.append(f"  and {len(found) - _CHOICES} more")
    raise BadInput(
        "these readings were not all printed and measured alike; choose one line:\n"
        + "\n".join(choices),
        source,
    )


def _options(key: Likeness, entry: Entry, differ: Iterable[str]) -> str:
    """Return the options that choose a group among others."""
    texts = {
        **{what: getattr(entry, what) or "" for what in TABLES},
        **{what: getattr(key, what) for what in ("condition", "backing", "observer", "ramp")},
        "through": str(key.through or UNKNOWN),
    }
    named = {**{name: f"--{name}" for name in texts}, "through": "--correction"}
    return " ".join(f"{named[name]} {shlex.quote(texts[name] or UNKNOWN)}" for name in differ)


def has(entry: Entry, **wanted: str | None) -> bool:
    """Say whether a reading has what is asked for of `Likeness`; "none" asks for what is unknown.

    Parameters
    ----------
    wanted
        By attribute: the whole name, whatever its case and spaces; None asks for nothing.
    """
    own = likeness(entry)
    return all(
        same_name(str(getattr(own, name) or UNKNOWN), text)
        for name, text in wanted.items()
        if text is not None
    )


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


def differing(kinds: Iterable[Likeness]) -> tuple[str, ...]:
    """Name the attributes in which several likenesses differ."""
    all_kinds = tuple(kinds)
    names = [field.name for field in fields(Likeness)]
    return tuple(name for name in names if len({getattr(one, name) for one in all_kinds}) > 1)


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
    aim, scaling, neutral = _aims(log, entries)
    return tuple(
        DatedAnalysis(
            entry.id,
            entry.moment,
            analyse(
                replace(reading_of(log, entry), name=entry.name),
                aim=aim,
                scaling=scaling,
                neutral=neutral,
                lights=(),
                tolerance=tolerance,
            ),
        )
        for entry in watched(entries)
    )


def _aims(log: PrintLog, entries: Sequence[Entry]) -> tuple[str | ToneAim, str, NeutralAim]:
    details = entries[0].details
    assert isinstance(details, ReadingDetails)
    if details.through is None:
        return DEFAULT_TONE_AIM, DEFAULT_SCALING, DEFAULT_NEUTRAL_AIM
    correction = correction_of(log, entry_of(log, details.through))
    return tone_aim_of(correction), correction.scaling, neutral_aim_of(correction)
