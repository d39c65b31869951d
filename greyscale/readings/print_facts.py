"""What is known of a print beside its numbers: PrintFacts."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

from greyscale.base.nearest import same_name


@dataclass(frozen=True, kw_only=True, eq=False)
class PrintFacts:
    """What was printed on what, and how and when it was measured; None where nobody said.

    A class whose results are of one print inherits these, so that they are declared once, and
    takes them over from another by `**facts_of(other)`.

    Attributes
    ----------
    printer, paper, settings, inks
        As the file or a person names them.
    condition
        "M0", "M1", "M2", "M3" of ISO 13655.
    backing
        "white", "black", "self", or what else the file says.
    instrument
        What measured it.
    printed, created
        When it was printed, and when it was measured.
    sent_through
        The correction through which the chart was printed, as its layout names it.
    """

    printer: str | None = None
    paper: str | None = None
    settings: str | None = None
    inks: str | None = None
    condition: str | None = None
    backing: str | None = None
    instrument: str | None = None
    printed: datetime | None = None
    created: datetime | None = None
    sent_through: str | None = None


_NAMES = tuple(one.name for one in fields(PrintFacts))


def facts_of(told: PrintFacts) -> dict[str, Any]:
    """The facts of a print by their names, to be handed on as keywords."""
    return {name: getattr(told, name) for name in _NAMES}


def first_difference(
    one: PrintFacts,
    other: PrintFacts,
    names: tuple[str, ...] = ("condition", "backing", "printer", "paper"),
) -> str | None:
    """The name of the first fact that both state, and state differently; None if there is none.

    Examples
    --------
    >>> first_difference(PrintFacts(paper="Kozo"), PrintFacts(paper="kozo", printer="desk"))
    >>> first_difference(PrintFacts(paper="Kozo"), PrintFacts(paper="rag"))
    'paper'
    """
    for name in names:
        first, second = getattr(one, name), getattr(other, name)
        if first and second and not same_name(first, second):
            return name
    return None
