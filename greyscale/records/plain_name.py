"""Names that a person means to be the same."""

from __future__ import annotations

from greyscale.base.plain_text import plain_text


def plain_name(name: str) -> str:
    """Return a name without regard to case and spaces, and to what nobody sees.

    Examples
    --------
    >>> plain_name(" Cotton  Rag")
    'cotton rag'
    """
    return " ".join(plain_text(name).split()).casefold()
