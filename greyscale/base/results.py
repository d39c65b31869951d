"""What results share: they take over what others say, show themselves, and become JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import datetime
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeVar, cast

if TYPE_CHECKING:
    import pandas

# What is known of a print beside its numbers. A class whose results are of one print inherits it:
# each fact is declared once, and `filled` takes it over from another.


@dataclass(frozen=True, kw_only=True, eq=False)
class PrintNames:
    """What was printed on what, as a file or a person names it; None where nobody said."""

    printer: str | None = None
    paper: str | None = None
    settings: str | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class MeasuredAs:
    """How it was measured: what readings must share to be compared; None where nobody said.

    Attributes
    ----------
    condition
        "M0", "M1", "M2", "M3" of ISO 13655.
    backing
        "white", "black", "self", or what else the file says.
    """

    condition: str | None = None
    backing: str | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class PrintFacts(PrintNames, MeasuredAs):
    """All that is known of a print that was measured; None where nobody said.

    Attributes
    ----------
    inks
        As a file or a person names them.
    printed, created
        When it was printed, and when it was measured.
    sent_through
        The correction through which the chart was printed, as its layout names it.
    """

    inks: str | None = None
    instrument: str | None = None
    printed: datetime | None = None
    created: datetime | None = None
    sent_through: str | None = None


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
    for source in sources:
        for name in _says(cast(Any, kind), cast(Any, type(source))):
            if name not in given:
                given[name] = getattr(source, name)
    return kind(**given)


@cache
def _says(kind: type, source: type) -> tuple[str, ...]:
    """Which fields of a kind are fields or properties of a source."""
    own = {one.name for one in fields(source)} if is_dataclass(source) else set()
    return tuple(
        one.name
        for one in fields(kind)
        if one.name in own
        or isinstance(getattr(source, one.name, None), property | cached_property)
    )


def with_rows(record: Made, index: Iterable[int], *names: str) -> Made:
    """Return a dataclass with some rows alone of the fields that hold something for each.

    Parameters
    ----------
    index
        Which rows, in order: whole numbers, as an array where fields are arrays.
    names
        Those fields: arrays, tuples or lists, or a mapping of such; what is None stays so.
    """

    def taken(value: Any) -> Any:
        if isinstance(value, Mapping):
            return {key: taken(one) for key, one in value.items()}
        if isinstance(value, tuple | list):
            return type(value)(value[row] for row in index)
        return None if value is None else value[index]

    values = {name: taken(getattr(record, name)) for name in names}
    return cast(Made, replace(cast(Any, record), **values))


class Presenter(Protocol):
    """What knows how every kind of result is shown."""

    def text(self, result: Any) -> str:
        """Return a few lines."""

    def html(self, result: Any) -> str:
        """Return its report as part of another page."""

    def data(self, result: Any) -> dict[str, Any]:
        """Return plain data: the same as its JSON."""

    def rows(self, result: Any) -> list[dict[str, Any]]:
        """Return its table, an object a line."""


_finders: list[Callable[[], Presenter]] = []


def register(find: Callable[[], Presenter]) -> None:
    """Tell where the presenter is found; it is not looked for before it is needed."""
    _finders[:] = [find]


class Presented:
    """A result of the program, as Python and notebooks show it."""

    def __repr__(self) -> str:
        return _finders[0]().text(self)

    def _repr_html_(self) -> str:
        return _finders[0]().html(self)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, with the keys of the result's JSON."""
        return _finders[0]().data(self)

    def to_pandas(self) -> pandas.DataFrame:
        """Return its table: of patches, tones or papers, a line each.

        Raises
        ------
        ModuleNotFoundError
            If pandas is not installed.
        """
        try:
            import pandas
        except ModuleNotFoundError as error:
            raise ModuleNotFoundError(
                "a table for pandas needs the package pandas; install it by: pip install pandas"
            ) from error
        return pandas.DataFrame(_finders[0]().rows(self))


def plain(value: Any) -> Any:
    """Turn arrays, tuples and NumPy scalars into lists and plain numbers, NaN into None.

    Examples
    --------
    >>> import numpy as np
    >>> plain({"a": np.array([1.0, np.nan]), "b": (np.float64(2), None, np.bool_(True))})
    {'a': [1.0, None], 'b': [2.0, None, True]}
    """
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, float):
        # Zero has no sign for a reader; what has no finite value is missing.
        return value + 0.0 if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    return str(value) if isinstance(value, Path) else value


def json_text(data: Mapping[str, Any]) -> str:
    """Return JSON text: full precision, letters as they are, what is missing as null.

    Examples
    --------
    >>> print(json_text({"hue": "β", "angle": float("nan")}), end="")
    {
     "hue": "β",
     "angle": null
    }
    """
    return json.dumps(plain(data), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
