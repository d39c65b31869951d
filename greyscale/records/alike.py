"""Which readings were printed and measured alike, so that one can be compared with the next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields

from greyscale.records.entries import Entry, ReadingDetails
from greyscale.records.plain_name import plain_name


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
        printer=plain_name(entry.printer or ""),
        paper=plain_name(entry.paper or ""),
        inks=plain_name(entry.inks or ""),
        settings=plain_name(entry.settings or ""),
        condition=details.condition or "",
        backing=plain_name(details.backing or ""),
        observer=details.observer,
        ramp=details.ramp or "",
        through=details.through or 0,
    )


def groups(entries: Iterable[Entry]) -> Mapping[Likeness, tuple[Entry, ...]]:
    """Sort readings into groups that were printed and measured alike, the largest first."""
    found: dict[Likeness, list[Entry]] = {}
    for entry in entries:
        found.setdefault(likeness(entry), []).append(entry)
    return {key: tuple(found[key]) for key in sorted(found, key=lambda key: -len(found[key]))}


def differing(kinds: Iterable[Likeness]) -> tuple[str, ...]:
    """Name the attributes in which several likenesses differ."""
    all_kinds = tuple(kinds)
    names = [field.name for field in fields(Likeness)]
    return tuple(name for name in names if len({getattr(one, name) for one in all_kinds}) > 1)
