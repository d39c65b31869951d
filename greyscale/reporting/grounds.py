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

_IN_SHORT = {
    "practice": "common practice without a source",
    "memory": "from memory of the source",
    "invented": "invented",
}
"""Kinds that the terminal tells as well: what rests on them is less than fact."""


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


def grounds_note(supports: Iterable[Support], every: bool = True) -> str:
    """Return what is not a standard, a publication or a measurement, or "" if nothing.

    Parameters
    ----------
    every
        Name each; else say how many there are, and where to find them.

    Examples
    --------
    >>> from greyscale.base.rests_on import supports
    >>> grounds_note(supports("visible-cast", "cielab"), every=False)  # doctest: +ELLIPSIS
    'Of what this rests on, 1 is common practice without a source; --verbose and ...'
    """
    unsure = [one for one in dict.fromkeys(supports) if one.kind in _IN_SHORT]
    if every or not unsure:
        return " ".join(f"{heading}: {text}." for heading, text in grounds(unsure))
    counts = [(sum(one.kind == kind for one in unsure), words) for kind, words in _IN_SHORT.items()]
    parts = [f"{n} {'is' if n == 1 else 'are'} {words}" for n, words in counts if n]
    return f"Of what this rests on, {' and '.join(parts)}; --verbose and the report say which."
