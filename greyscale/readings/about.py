"""What a file says of itself: name, measuring conditions, printer, paper, from its keywords."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache
from typing import TypeVar

from greyscale.base.results import PrintFacts
from greyscale.readings.fields import Units
from greyscale.readings.source_file import to_number

# How a print was measured, from the words in which a file says it.
#
# Conditions M0 to M3 and backings are those of ISO 13655:2017; the spellings are common
# practice.

LOOKED_AT = 1000
"""Characters of a text that are looked at; no file takes more to say how it was measured."""

_CONDITION = re.compile(r"(?<![A-Z0-9])M\s?([0-3])(?![A-Z0-9.])")
_WITHOUT = re.compile(r"\b(?:NO|NON|NOT|WITHOUT|UN)[\s_-]*(?:UV|POLARI[SZ])")
_UV_EXCLUDED = re.compile(r"UV[\s_-]*(?:CUT|EXCLUDED|EXCLUDE|FILTER|BLOCK)|\bNO[\s_-]*UV\b")
_POLARISED = re.compile(r"POLARI[SZ]")

_BACKING = re.compile(r"\b(WHITE|BLACK|SELF)[\s_-]*(?:BACK|BASE)", re.IGNORECASE)
NOTHING_SAID = {"", "NA", "N/A", "NONE", "UNKNOWN", "NOT SPECIFIED", "UNSPECIFIED", "-", "?"}
"""Words, in capitals, that stand where nothing is known."""

_OBSERVER_YEAR = {"1931": "2", "1964": "10"}
_OBSERVER = re.compile(r"(?<![\d.])(2|10)\s*(?:°|º|[\s_-]?DEG)|CIE\s*(1931|1964)")
_OBSERVER_NAMED = re.compile(r"OBSERVER[A-Z_]*[\s=:,]*(2|10|1931|1964)(?!\d)")
_OBSERVER_ALONE = re.compile(r"(?<![\d.])(2|10|1931|1964)(?!\d)")

_ILLUMINANT = re.compile(r"(?<![A-Z0-9])(D50|D55|D65|D75|FL?\d{1,2})(?![A-Z0-9])")
_ILLUMINANT_NAMED = re.compile(
    r"ILLUMINANT[\s=:,\"]*(?:CIE\s*)?(A|B|C|E|D\d\d|FL?\d{1,2}|[A-Z]+-?[A-Z]*\d+)(?![A-Z0-9])"
)


@lru_cache(maxsize=4096)
def condition_in(words: str) -> str | None:
    """Return "M0" to "M3", or None.

    Examples
    --------
    >>> condition_in("M1 (D50)"), condition_in("UV cut"), condition_in("M1_Daylight")
    ('M1', 'M2', 'M1')
    """
    text = words[:LOOKED_AT].upper()
    found = _CONDITION.search(text)
    if found is not None:
        return f"M{found.group(1)}"
    if _UV_EXCLUDED.search(text):
        return "M2"
    if _POLARISED.search(text) and not _WITHOUT.search(text):
        return "M3"
    return None


def backing_of(value: str) -> str | None:
    """Return "white", "black" or "self", else the words themselves; None where nothing is said.

    Examples
    --------
    >>> backing_of("Black"), backing_of("3 sheets of the same paper"), backing_of("na")
    ('black', 'self', None)
    """
    text = value.strip()
    if text.upper() in NOTHING_SAID:
        return None
    lower = text.lower()
    for word, backing in (
        ("black", "black"),
        ("white", "white"),
        ("self", "self"),
        ("same", "self"),
        ("substrate", "self"),
    ):
        if word in lower:
            return backing
    return text


def backing_in(words: str) -> str | None:
    """Return the backing of which a longer text speaks, or None.

    Examples
    --------
    >>> backing_in("D50, 2 degree, 0/45, white backing")
    'white'
    """
    found = _BACKING.search(words[:LOOKED_AT])
    return None if found is None else found.group(1).lower()


def observer_in(words: str, about_observer: bool = False) -> str | None:
    """Return "2" or "10", or None.

    Parameters
    ----------
    about_observer
        Whether the text speaks of nothing else, so that a bare number is enough.

    Examples
    --------
    >>> observer_in("D50, 2 degree, 0/45"), observer_in("OBSERVER, 10"), observer_in("0/45")
    ('2', '10', None)
    """
    text = words[:LOOKED_AT].upper()
    patterns = (_OBSERVER_NAMED, _OBSERVER, *((_OBSERVER_ALONE,) if about_observer else ()))
    for pattern in patterns:
        found = pattern.search(text)
        if found is not None:
            value = str(next(group for group in found.groups() if group))
            return _OBSERVER_YEAR.get(value, value)
    return None


def illuminant_in(words: str, about_illuminant: bool = False) -> str | None:
    """Return the name of the illuminant of tristimulus values, or None.

    Examples
    --------
    >>> illuminant_in("ILLUMINANT, A"), illuminant_in("D65 10 degree"), illuminant_in("0/45")
    ('A', 'D65', None)
    >>> illuminant_in("A") is None, illuminant_in("A", about_illuminant=True)
    (True, 'A')
    """
    text = words[:LOOKED_AT].upper()
    if about_illuminant:
        text = f"ILLUMINANT {text}"
    found = _ILLUMINANT_NAMED.search(text) or _ILLUMINANT.search(text)
    return None if found is None else found.group(1).replace("FL", "F")


# Day and month may stand in either order between slashes, so those are looked at apart.
_DAYS = (
    *("%Y-%m-%d", "%Y/%m/%d", "%Y%m%d", "%d.%m.%Y"),
    *("%d %B %Y", "%d %b %Y", "%B %d, %Y", "%b %d, %Y"),
)
_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})(.*)")
_TIMES = ("", " %H:%M:%S", " %H:%M", " %I:%M:%S %p", " %I:%M %p")
_DATES = (*(day + time for day in _DAYS for time in _TIMES), "%a %b %d %H:%M:%S %Y")


def date_of(value: str) -> datetime | None:
    """Return the time that a file states, as the clock showed it where it was measured.

    An offset from UTC is dropped, so that files with and without one compare. A date such as
    3/4/2024, which may be in March or April, is None.

    Examples
    --------
    >>> print(date_of("2024-05-01T10:30:00+02:00"), date_of("05/21/2024 3:04 PM"))
    2024-05-01 10:30:00 2024-05-21 15:04:00
    >>> date_of("3/4/2024") is None
    True
    """
    text = " ".join(value[:LOOKED_AT].split())
    try:
        return datetime.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        pass
    slashed = _SLASHED.fullmatch(text)
    if slashed is not None:
        day, month = int(slashed[1]), int(slashed[2])
        if day <= 12 and month <= 12 and day != month:
            return None
        text = f"{slashed[3]}-{min(day, month)}-{max(day, month)}{slashed[4]}"
    for form in _DATES:
        try:
            return datetime.strptime(text, form)
        except ValueError:
            continue
    return None


# Keywords that say one thing, the most telling first; those of ISO 28178 among them.
NAME = ("FILE_DESCRIPTOR", "DESCRIPTOR")
CREATED = ("CREATED", "MEASUREMENT_DATE", "DATE")
INSTRUMENT = ("INSTRUMENTATION", "INSTRUMENT", "MEASUREMENT_DEVICE")
PRINTER = ("PRINTER", "PRINTER_NAME", "OUTPUT_DEVICE")
PAPER = ("MATERIAL", "PAPER", "PAPER_NAME", "PAPER_TYPE", "SUBSTRATE", "MEDIA")
SETTINGS = ("PRINT_CONDITIONS", "PRINT_SETTINGS", "PRINTER_SETTINGS", "SETTINGS")
INKS = ("INKS", "INK_SET", "INKSET", "INK")
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
OBSERVER_TOLD_BY = ("OBSERVER", "STANDARD_OBSERVER", "OBSERVER_ANGLE", *WEIGHTING, "ILLUMINANT")
ILLUMINANT_TOLD_BY = ("ILLUMINANT", *WEIGHTING, "OBSERVER")
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
        Of the spectra: "percent" or "decimal", or None.
    full_scale
        What stands for paper white in device values, where the file says so.
    """

    name: str | None = None
    observer: str | None = None
    illuminant: str | None = None
    units: Units | None = None
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
    remarks: list[str] = []
    created = _take_read(left, CREATED, date_of, remarks)
    condition = _condition(left, remarks)
    observer = _first(
        observer_in(left[name], "OBSERVER" in name) for name in OBSERVER_TOLD_BY if name in left
    )
    illuminant = _first(
        illuminant_in(left[name], "ILLUMINANT" in name)
        for name in ILLUMINANT_TOLD_BY
        if name in left
    )
    if _USUAL_WEIGHTING.fullmatch(left.get("WEIGHTING_FUNCTION", "")):
        del left["WEIGHTING_FUNCTION"]
    backing = _take_read(left, BACKING, backing_of)
    return About(
        name=_take_read(left, NAME, str),
        condition=condition,
        backing=backing or _first(backing_in(left[n]) for n in BACKING_TOLD_BY if n in left),
        observer=observer,
        illuminant=illuminant,
        instrument=_take_read(left, INSTRUMENT, str),
        printer=_take_read(left, PRINTER, str),
        paper=_take_read(left, PAPER, str),
        settings=_take_read(left, SETTINGS, str),
        inks=_take_read(left, INKS, str),
        printed=_take_read(left, PRINTED, date_of),
        sent_through=_take_read(left, THROUGH, str),
        created=created,
        units=_take_read(left, UNITS, lambda value: _UNITS.get(value.strip().lower())),
        full_scale=_take_read(left, FULL_SCALE, _positive),
        fields=left,
        remarks=tuple(remarks),
    )


def _first(found: Iterable[T | None]) -> T | None:
    return next((value for value in found if value is not None), None)


def _take_read(
    left: dict[str, str],
    names: Iterable[str],
    read: Callable[[str], T | None],
    unread: list[str] | None = None,
) -> T | None:
    """Take the first keyword whose value can be read; what says nothing, or cannot be, stays."""
    for name in names:
        value = left.get(name)
        if not value:
            continue
        if (found := read(value)) is not None:
            del left[name]
            return found
        if unread is not None:
            unread.append(f"{name} '{value}' is not a date that can be read; it is left out.")
    return None


def _condition(left: dict[str, str], remarks: list[str]) -> str | None:
    condition = _take_read(left, CONDITION, condition_in)
    told = _first(condition_in(left[name]) for name in CONDITION_TOLD_BY if name in left)
    if condition is not None:
        if told not in (None, condition):
            remarks.append(f"The file also mentions {told}; {condition} is taken.")
        return condition
    if told is None:
        told = _first(condition_in(left[name]) for name in DESCRIPTIONS if name in left)
        if told is not None:
            remarks.append(f"{told} is taken from the file's description.")
    return told


_UNITS: dict[str, Units] = {
    "percent": "percent",
    "%": "percent",
    "decimal": "decimal",
    "reflectance": "decimal",
}


def _positive(value: str) -> float | None:
    number = to_number(value)
    return number if number is not None and number > 0 else None
