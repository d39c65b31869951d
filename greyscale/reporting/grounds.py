"""What a result rests on, in words: for the end of reports, and as a note in the terminal."""

from __future__ import annotations

from collections.abc import Iterable

from greyscale.base.rests_on import KINDS, Support

HEADINGS = {
    "standard": "Standards",
    "published": "Publications",
    "measured": "Measured",
    "practice": "Common practice, no source",
    "memory": "From memory of the source",
    "invented": "Invented",
}

CONSERVATION = (
    "is not conservation advice. It says nothing about whether a light is safe for a work: a "
    "conservator or the rules of the house decide."
)
"""What a report, or a list with ultraviolet in it, says of itself."""

UNSURE = ("practice", "memory", "invented")
"""Kinds that the terminal names as well: what rests on them is less than fact."""


def grounds(supports: Iterable[Support]) -> tuple[tuple[str, str], ...]:
    """Return a row for each kind: its heading, and all of that kind in one text.

    Examples
    --------
    >>> from greyscale.base.rests_on import supports
    >>> grounds(supports("visible-cast"))  # doctest: +ELLIPSIS
    (('Common practice, no source', 'a tone more than ΔCh 1 from ... from 3 on anyone'),)
    """
    found = tuple(dict.fromkeys(supports))
    rows = []
    for kind in KINDS:
        texts = [
            one.what if kind == "practice" else f"{one.what} ({one.source})"
            for one in found
            if one.kind == kind
        ]
        if texts:
            rows.append((HEADINGS[kind], "; ".join(texts)))
    return tuple(rows)


def grounds_note(supports: Iterable[Support]) -> str:
    """Return one paragraph on what is not a standard, a publication or a measurement; or ""."""
    unsure = [one for one in supports if one.kind in UNSURE]
    rows = [f"{heading}: {text}." for heading, text in grounds(unsure)]
    return " ".join(rows)
