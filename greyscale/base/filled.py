"""Records that take over what others say already, field by field of the same name."""

from __future__ import annotations

from dataclasses import fields
from typing import Any, TypeVar, cast

Made = TypeVar("Made")


def filled(kind: type[Made], *sources: object, **given: Any) -> Made:
    """Return a dataclass: its fields as given, else from the first source that has them.

    Parameters
    ----------
    kind
        The dataclass; fields that neither is given nor any source has keep their defaults.
    sources
        Records in which every field of such a name means the same.

    Raises
    ------
    TypeError
        If a field that has no default is missing, or one is given that there is not.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> @dataclass
    ... class Sheet:
    ...     paper: str
    ...     size: str = "a4"
    >>> @dataclass
    ... class Label:
    ...     paper: str
    ...     number: int
    >>> filled(Label, Sheet("rag"), number=3)
    Label(paper='rag', number=3)
    """
    for one in fields(cast(Any, kind)):
        for source in sources:
            if one.name not in given and hasattr(source, one.name):
                given[one.name] = getattr(source, one.name)
    return kind(**given)
