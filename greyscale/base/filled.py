"""Records that take over what others say already, field by field of the same name."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from functools import cached_property
from typing import Any, TypeVar, cast

Made = TypeVar("Made")


def filled(kind: type[Made], *sources: object, **given: Any) -> Made:
    """Return a dataclass: its fields as given, else from the first source that has them.

    Parameters
    ----------
    kind
        The dataclass; fields that neither is given nor any source has keep their defaults.
    sources
        Dataclasses in which every field or property of such a name means the same; methods are
        none.

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
    >>> @dataclass
    ... class Count:
    ...     paper: str
    ...     count: int = 0
    >>> filled(Count, Sheet("rag"), ("has", "a method", "of that name"))
    Count(paper='rag', count=0)
    """
    for one in fields(cast(Any, kind)):
        for source in sources:
            if one.name not in given and _says(source, one.name):
                given[one.name] = getattr(source, one.name)
    return kind(**given)


def _says(source: object, name: str) -> bool:
    """Whether it is a field or a property of the source."""
    if is_dataclass(source) and any(one.name == name for one in fields(source)):
        return True
    return isinstance(getattr(type(source), name, None), property | cached_property)
