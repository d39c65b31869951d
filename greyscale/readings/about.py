"""What a file says of itself: name, measuring conditions, printer, paper, from its keywords."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from greyscale.readings.measuring import (
    backing_in,
    backing_of,
    condition_in,
    date_of,
    illuminant_in,
    observer_in,
)
from greyscale.readings.numbers import to_number
from greyscale.readings.print_facts import PrintFacts

# Keywords that say one thing, the most telling first; those of ISO 28178 among them.
NAME = ("FILE_DESCRIPTOR", "DESCRIPTOR")
CREATED = ("CREATED", "MEASUREMENT_DATE", "DATE")
INSTRUMENT = ("INSTRUMENTATION", "INSTRUMENT", "MEASUREMENT_DEVICE")
PRINTER = ("PRINTER", "PRINTER_NAME", "OUTPUT_DEVICE")
PAPER = ("MATERIAL", "PAPER", "PAPER_NAME", "PAPER_TYPE", "SUBSTRATE", "MEDIA")
SETTINGS = ("PRINT_CONDITIONS", "PRINT_SETTINGS", "PRINTER_SETTINGS", "SETTINGS")
INKS = ("INKS", "INK_SET")
PRINTED = ("PRINTED", "PRINT_DATE")
THROUGH = ("CHART_THROUGH",)
BACKING = ("SAMPLE_BACKING", "MEASUREMENT_BACKING", "BACKING")
CONDITION = ("MEASUREMENT_CONDITION", "CONDITION", "M_CONDITION", "MEASUREMENT_MODE")
UNITS = ("SPECTRAL_UNITS", "UNITS")
FULL_SCALE = ("RGB_SCALE",)

# Keywords that may speak of several things; they stay among the fields.
CONDITION_TOLD_BY = (
    "FILTER",
    "POLARIZATION",
    "MEASUREMENT_SOURCE",
    "ILLUMINATION_NAME",
    "MEASUREMENT_FILTER",
    "INSTRUMENT_FILTER",
    "COMPUTATIONAL_PARAMETER",
)
WEIGHTING = ("WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE", "COMPUTATIONAL_PARAMETER")
OBSERVER_TOLD_BY = ("OBSERVER", "STANDARD_OBSERVER", "OBSERVER_ANGLE", *WEIGHTING)
ILLUMINANT_TOLD_BY = ("ILLUMINANT", *WEIGHTING)
BACKING_TOLD_BY = ("MEASUREMENT_SOURCE", "MEASUREMENT_GEOMETRY", "COMPUTATIONAL_PARAMETER")
DESCRIPTIONS = (*NAME, "SOURCE")

T = TypeVar("T")

_NEVER_A_FIELD = {"NUMBER_OF_FIELDS", "NUMBER_OF_SETS", "KEYWORD"}


@dataclass(frozen=True, eq=False)
class About(PrintFacts):
    """What a file says of itself; see `Reading` for what each means.

    Attributes
    ----------
    observer, illuminant
        Of the CIELAB or tristimulus values that the file states; None where it does not say.
    units
        Of the spectra: "percent", "decimal" or what else the file says; or None.
    full_scale
        What stands for paper white in device values, where the file says so.
    """

    name: str | None = None
    observer: str | None = None
    illuminant: str | None = None
    units: str | None = None
    full_scale: float | None = None
    fields: Mapping[str, str] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()


_USUAL_WEIGHTING = re.compile(r"ILLUMINANT, D50; OBSERVER, (2|10) degree")


def weighting(illuminant: str, observer: str) -> str:
    """Say for which light and observer CIELAB was computed, as a WEIGHTING_FUNCTION.

    Examples
    --------
    >>> weighting("D50", "2")
    'ILLUMINANT, D50; OBSERVER, 2 degree'
    """
    return f"ILLUMINANT, {illuminant}; OBSERVER, {observer} degree"


def about_file(keywords: Iterable[tuple[str, str]]) -> About:
    """Take keywords and values apart into what is known of a reading, and the rest.

    Of a keyword that stands more than once the values are joined, as in the two lines of
    WEIGHTING_FUNCTION by which ISO 28178 states illuminant and observer.

    Examples
    --------
    >>> told = about_file([("MEASUREMENT_SOURCE", "D50, 2 degree, 0/45, white backing")])
    >>> told.illuminant, told.observer, told.backing, told.condition
    ('D50', '2', 'white', None)
    """
    stated: dict[str, dict[str, None]] = {}
    for spelt, value in keywords:
        name = spelt.upper()
        if name not in _NEVER_A_FIELD:
            stated.setdefault(name, {})[value] = None
    left = {name: "; ".join(filter(None, values)) for name, values in stated.items()}
    return _About(left).taken()


class _About:
    """The keywords that are left, and what was found in them."""

    def __init__(self, left: dict[str, str]) -> None:
        self.left = left
        self.remarks: list[str] = []

    def taken(self) -> About:
        created = self._take_read(CREATED, date_of, "is not a date that can be read")
        condition = self._condition()
        observer = self._told(OBSERVER_TOLD_BY, "OBSERVER", observer_in)
        illuminant = self._told(ILLUMINANT_TOLD_BY, "ILLUMINANT", illuminant_in)
        if _USUAL_WEIGHTING.fullmatch(self.left.get("WEIGHTING_FUNCTION", "")):
            del self.left["WEIGHTING_FUNCTION"]
        backing = self._take_read(BACKING, backing_of)
        if backing is None:
            backing = self._first_in(BACKING_TOLD_BY, backing_in)
        return About(
            name=self._take(NAME),
            condition=condition,
            backing=backing,
            observer=observer,
            illuminant=illuminant,
            instrument=self._take(INSTRUMENT),
            printer=self._take(PRINTER),
            paper=self._take(PAPER),
            settings=self._take(SETTINGS),
            inks=self._take(INKS),
            printed=self._take_read(PRINTED, date_of),
            sent_through=self._take(THROUGH),
            created=created,
            units=self._take_read(UNITS, _units),
            full_scale=self._take_read(FULL_SCALE, _positive),
            fields=dict(self.left),
            remarks=tuple(self.remarks),
        )

    def _take(self, names: Iterable[str]) -> str | None:
        """Take the first keyword that says something; the others stay."""
        for name in names:
            if self.left.get(name):
                return self.left.pop(name)
        return None

    def _take_read(
        self, names: Iterable[str], read: Callable[[str], T | None], else_remark: str = ""
    ) -> T | None:
        """Take the first keyword whose value can be read; what cannot be read stays."""
        for name in names:
            value = self.left.get(name)
            if not value:
                continue
            result = read(value)
            if result is not None:
                del self.left[name]
                return result
            if else_remark:
                self.remarks.append(f"{name} '{value}' {else_remark}; it is left out.")
        return None

    def _first_in(self, names: Iterable[str], read: Callable[[str], T | None]) -> T | None:
        found = (read(self.left[name]) for name in names if name in self.left)
        return next((value for value in found if value is not None), None)

    def _told(
        self, names: Iterable[str], subject: str, read: Callable[[str, bool], str | None]
    ) -> str | None:
        for name in names:
            if name in self.left:
                found = read(self.left[name], subject in name)
                if found is not None:
                    return found
        return None

    def _condition(self) -> str | None:
        condition = self._take_read(CONDITION, condition_in)
        told = self._first_in(CONDITION_TOLD_BY, condition_in)
        if condition is not None:
            if told not in (None, condition):
                self.remarks.append(f"The file also mentions {told}; {condition} is taken.")
            return condition
        if told is None:
            told = self._first_in(DESCRIPTIONS, condition_in)
            if told is not None:
                self.remarks.append(f"{told} is taken from the file's description.")
        return told


def _units(value: str) -> str | None:
    text = value.strip().lower()
    known = {"percent": "percent", "%": "percent", "decimal": "decimal", "reflectance": "decimal"}
    return known.get(text)


def _positive(value: str) -> float | None:
    number = to_number(value)
    return number if number is not None and number > 0 else None
