"""Names that a person means to be the same."""

from __future__ import annotations


def plain_name(name: str) -> str:
    """Give a name without regard to case and spaces.

    Examples
    --------
    >>> plain_name(" Cotton  Rag")
    'cotton rag'
    """
    return " ".join(name.split()).casefold()
