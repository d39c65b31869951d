"""How a print was measured, from the words in which a file says it.

Conditions M0 to M3 and backings are those of ISO 13655:2017; the spellings are common practice.
"""

from __future__ import annotations

import re
from datetime import datetime

LOOKED_AT = 1000
"""Characters of a text that are looked at; no file takes more to say how it was measured."""

_CONDITION = re.compile(r"(?<![A-Z0-9])M\s?([0-3])(?![A-Z0-9.])")
_WITHOUT = re.compile(r"\b(?:NO|NON|NOT|WITHOUT|UN)[\s_-]*(?:UV|POLARI[SZ])")
_UV_EXCLUDED = re.compile(r"UV[\s_-]*(?:CUT|EXCLUDED|EXCLUDE|FILTER|BLOCK)|\bNO[\s_-]*UV\b")
_POLARISED = re.compile(r"POLARI[SZ]")

_BACKING = re.compile(r"\b(WHITE|BLACK|SELF)[\s_-]*(?:BACK|BASE)", re.IGNORECASE)
_NOTHING_SAID = {"", "NA", "N/A", "NONE", "UNKNOWN", "NOT SPECIFIED", "UNSPECIFIED", "-", "?"}

_OBSERVER_YEAR = {"1931": "2", "1964": "10"}
_OBSERVER = re.compile(r"(?<![\d.])(2|10)\s*(?:°|º|[\s_-]?DEG)|CIE\s*(1931|1964)")
_OBSERVER_NAMED = re.compile(r"OBSERVER[A-Z_]*[\s=:,]*(2|10|1931|1964)(?!\d)")
_OBSERVER_ALONE = re.compile(r"(?<![\d.])(2|10|1931|1964)(?!\d)")

_ILLUMINANT = re.compile(r"(?<![A-Z0-9])(D50|D55|D65|D75|FL?\d{1,2})(?![A-Z0-9])")
_ILLUMINANT_NAMED = re.compile(
    r"ILLUMINANT[\s=:,\"]*(?:CIE\s*)?(A|B|C|E|D\d\d|FL?\d{1,2}|[A-Z]+-?[A-Z]*\d+)(?![A-Z0-9])"
)


def condition_in(words: str) -> str | None:
    """Give "M0" to "M3", or None.

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
    """Give "white", "black" or "self", else the words themselves; None where nothing is said.

    Examples
    --------
    >>> backing_of("Black"), backing_of("3 sheets of the same paper"), backing_of("na")
    ('black', 'self', None)
    """
    text = value.strip()
    if text.upper() in _NOTHING_SAID:
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
    """Give the backing of which a longer text speaks, or None.

    Examples
    --------
    >>> backing_in("D50, 2 degree, 0/45, white backing")
    'white'
    """
    found = _BACKING.search(words[:LOOKED_AT])
    return None if found is None else found.group(1).lower()


def observer_in(words: str, about_observer: bool = False) -> str | None:
    """Give "2" or "10", or None.

    Parameters
    ----------
    words
        The text.
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
    """Give the name of the illuminant of tristimulus values, or None.

    Examples
    --------
    >>> illuminant_in("ILLUMINANT, A"), illuminant_in("D65 10 degree"), illuminant_in("0/45")
    ('A', 'D65', None)
    """
    text = words[:LOOKED_AT].upper()
    if about_illuminant:
        text = f"ILLUMINANT {text}"
    found = _ILLUMINANT_NAMED.search(text) or _ILLUMINANT.search(text)
    return None if found is None else found.group(1).replace("FL", "F")


# Day and month may stand in either order between slashes, so those are looked at apart.
_DATES = (
    "%Y-%m-%d %H:%M:%S",
    "%Y-%m-%d %H:%M",
    "%Y-%m-%d",
    "%Y/%m/%d %H:%M:%S",
    "%Y/%m/%d %H:%M",
    "%Y/%m/%d",
    "%Y%m%d",
    "%d.%m.%Y %H:%M:%S",
    "%d.%m.%Y %H:%M",
    "%d.%m.%Y",
    "%a %b %d %H:%M:%S %Y",
    "%d %B %Y %H:%M",
    "%d %B %Y",
    "%d %b %Y",
    "%B %d, %Y %H:%M:%S",
    "%B %d, %Y",
    "%b %d, %Y",
)
_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})(.*)")
_TIMES = ("", "%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p")


def date_of(value: str) -> datetime | None:
    """Give the time that a file states, as the clock showed it where it was measured.

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
        return _slashed_date(*slashed.groups())
    for form in _DATES:
        try:
            return datetime.strptime(text, form)
        except ValueError:
            continue
    return None


def _slashed_date(first: str, second: str, year: str, rest: str) -> datetime | None:
    day, month = int(first), int(second)
    if day <= 12 < month:
        day, month = month, day
    elif day <= 12 and day != month:
        return None
    for form in _TIMES:
        try:
            return datetime.strptime(
                f"{year}-{month}-{day} {rest.strip()}".strip(), f"%Y-%m-%d {form}".strip()
            )
        except ValueError:
            continue
    return None
