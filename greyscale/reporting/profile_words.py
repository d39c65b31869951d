"""What became of a profile, in words."""

from __future__ import annotations

from collections.abc import Sequence

from greyscale.icc.amend import INTENTS, Amendment
from greyscale.reporting.cast_words import joined


def amended_words(name: str, amendments: Sequence[Amendment]) -> str:
    """Say which intents of an amended profile print neutral, and how much of it changed.

    Examples
    --------
    >>> amended_words("amended.icc", [Amendment("B2A1", 1000, 120), Amendment("A2B1", 1000, 300)])
    'Amended profile: amended.icc; relative (12 % of its points to the printer changed)'
    """
    names = {number: intent for intent, number in INTENTS.items()}
    parts = [
        f"{names[int(one.table[3])]} ({100 * one.changed / one.points:.0f} % of its points to the "
        "printer changed)"
        for one in sorted(amendments, key=lambda one: one.table)
        if one.table.startswith("B2A")
    ]
    return f"Amended profile: {name}; {joined(parts)}"
