"""How fields are taken from a JSON file: each as what it must be, or a message that names it."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import plain_text
from greyscale.colorimetry.arrays import Array

Made = TypeVar("Made")

Range = tuple[float, float]
"""The least and the largest number that makes sense."""

_ANY: Range = (-math.inf, math.inf)


class Fields:
    """The fields of one JSON object.

    Parameters
    ----------
    data
        The parsed object.
    source
        The file, for messages.
    within
        The names that lead to this object, as "evidence.".
    """

    def __init__(self, data: object, source: Path | str, within: str = "") -> None:
        if not isinstance(data, dict):
            raise BadInput(f"{_named(within)} should be a JSON object, {_found(data)}", source)
        self._data: dict[str, Any] = data
        self._source = source
        self._within = within

    def has(self, key: str) -> bool:
        """Say whether there is anything, not null: what earlier programs did not write."""
        return self._data.get(key) is not None

    def text(self, key: str) -> str:
        """Return a text, without what nobody sees."""
        return plain_text(self.text_as_it_is(key))

    def text_as_it_is(self, key: str) -> str:
        """Return a text to the last sign."""
        return self._of(key, str, "a text")

    def optional_text(self, key: str) -> str | None:
        """Return a text, or None where it is null or missing."""
        return self.text(key) if self.has(key) else None

    def number(self, key: str, within: Range = _ANY) -> float:
        """Return a finite number of a range."""
        value = self._get(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._wrong(key, "a number", value)
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise self._wrong(key, "a finite number", value)
        self._refuse_outside(key, number, number, within)
        return number

    def whole(self, key: str) -> int:
        """Return a whole number from 0 up."""
        value = self._get(key)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 2**31:
            raise self._wrong(key, "a whole number", value)
        return value

    def flag(self, key: str) -> bool:
        """Return true or false."""
        return self._of(key, bool, "true or false")

    def moment(self, key: str) -> datetime:
        """Return a date and time (ISO 8601)."""
        value = self.text(key)
        try:
            return datetime.fromisoformat(value)
        except ValueError as error:
            raise self._wrong(key, "a date and time", value) from error

    def array(self, key: str, *shape: int | None, within: Range = _ANY) -> Array:
        """Return an array of finite numbers of a range; None in the shape is any length but 0."""
        value = self._get(key)
        try:
            array = np.array(value, dtype=np.float64)
        except (TypeError, ValueError, OverflowError) as error:
            raise self._wrong(key, "numbers in rows of one length", value) from error
        fits = array.ndim == len(shape) and all(
            wanted == found if wanted is not None else found > 0
            for wanted, found in zip(shape, array.shape, strict=True)
        )
        if not fits:
            wanted = " by ".join("n" if length is None else str(length) for length in shape)
            found = " by ".join(str(length) for length in array.shape) or "one"
            raise self._refusal(key, f"should hold {wanted} numbers, found {found}")
        if not np.isfinite(array).all():
            raise self._wrong(key, "finite numbers", "something else among them")
        self._refuse_outside(key, float(array.min()), float(array.max()), within)
        return array

    def made(self, kind: type[Made], **given: Any) -> Made:
        """Return a dataclass, each field read as what it is declared to be.

        Parameters
        ----------
        given
            Those that are not read here, by name.
        """
        for one in dataclasses.fields(cast(Any, kind)):
            if one.name not in given:
                given[one.name] = self._read(one.name, str(one.type))
        return kind(**given)

    def _read(self, key: str, of: str) -> object:
        if of.endswith(" | None") and not self.has(key):
            return None
        return _BY_TYPE[of.removesuffix(" | None")](self, key)

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts."""
        value = self._of(key, list, "a list of texts")
        if not all(isinstance(item, str) for item in value):
            raise self._wrong(key, "a list of texts", value)
        return tuple(map(plain_text, value))

    def mapping(self, key: str) -> dict[str, Any]:
        """Return an object as it is, whatever is in it."""
        return self._of(key, dict, "a JSON object")

    def fields(self, key: str) -> Fields:
        """Return the fields of an object within."""
        return Fields(self._get(key), self._source, f"{self._within}{key}.")

    def optional_list_of_fields(self, key: str) -> list[Fields]:
        """Return the fields of each object in a list; none where it is null or missing."""
        return self.list_of_fields(key) if self.has(key) else []

    def list_of_fields(self, key: str) -> list[Fields]:
        """Return the fields of each object in a list."""
        return [
            Fields(item, self._source, f"{self._within}{key}[{index}].")
            for index, item in enumerate(self._of(key, list, "a list"))
        ]

    def _get(self, key: str) -> Any:
        if key not in self._data:
            raise self._refusal(key, "is missing")
        return self._data[key]

    def _of(self, key: str, kind: type[Made], wanted: str) -> Made:
        value = self._get(key)
        if not isinstance(value, kind):
            raise self._wrong(key, wanted, value)
        return value

    def _refuse_outside(self, key: str, least: float, most: float, within: Range) -> None:
        if least < within[0] or most > within[1]:
            found = f"{least:g}" if least == most else f"{least:g} to {most:g}"
            ends = f"{within[0]:g} and {within[1]:g}"
            raise self._refusal(key, f"should lie between {ends}, found {found}")

    def _wrong(self, key: str, wanted: str, value: object) -> BadInput:
        return self._refusal(key, f"should be {wanted}, {_found(value)}")

    def _refusal(self, key: str, said: str) -> BadInput:
        named = _named(self._within + key)
        return BadInput(f"{named} {said}; take an undamaged copy of the file", self._source)


_BY_TYPE: Mapping[str, Callable[[Fields, str], object]] = {
    "str": Fields.text,
    "int": Fields.whole,
    "float": Fields.number,
    "bool": Fields.flag,
    "datetime": Fields.moment,
    "tuple[str, ...]": Fields.texts,
}
"""How a field is read that is declared so."""

LARGEST_FILE = 100_000_000
"""Bytes. A correction from a thousand patches takes about a million."""


def read_fields(path: Path, schema: str, largest: int = LARGEST_FILE) -> Fields:
    """Read a JSON file that says it follows `schema`, as "greyscale/correction/1".

    Parameters
    ----------
    largest
        Bytes that it may have.

    Raises
    ------
    BadInput
        If it cannot be read, is no JSON, or follows another schema, a later version's too.
    """
    try:
        if path.stat().st_size > largest:
            raise BadInput(
                f"holds more than {largest / 1e6:.0f} MB, the most that is read; is it "
                "the right file?",
                path,
            )
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput("cannot be read as text; take an undamaged copy of it", path) from error
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise BadInput(
            f"is not complete JSON ({error.msg}); take an undamaged copy of it", path, error.lineno
        ) from error
    except (ValueError, RecursionError) as error:
        raise BadInput(
            "is not JSON that can be used; take an undamaged copy of it", path
        ) from error
    fields = Fields(data, path)
    found = fields.optional_text("schema")
    if found == schema:
        return fields
    kind, _, version = schema.rpartition("/")
    if found is not None and found.startswith(f"{kind}/"):
        raise BadInput(
            f"this was written as '{found[:60]}' by another version of greyscale; this one reads "
            f"version {version}. Update greyscale",
            path,
        )
    said = f"'{found[:60]}'" if found else "nothing"
    raise BadInput(f"says schema {said}, not '{schema}'; give another file", path)


def _named(path: str) -> str:
    return f"'{path.rstrip('.')}'" if path else "the file"


def _found(value: object) -> str:
    shown = json.dumps(value, default=str)
    return f"found {shown if len(shown) <= 40 else shown[:37] + '...'}"
