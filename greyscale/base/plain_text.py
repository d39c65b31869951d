"""Texts without what nobody sees and a terminal would obey; numbers, times, lists as printed."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

UNSEEN = re.compile("[\x00-\x08\x0b\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""Control characters but tab and line ends, and what turns a line round (Unicode UAX #9)."""

_HALVES = re.compile("[\ud800-\udfff]")
"""Halves of a character, as JSON can hold them and names of files in old encodings have them."""


def plain_text(text: str) -> str:
    """Leave out what is not to be seen; halves of characters become the sign for what is lost.

    Examples
    --------
    >>> plain_text("fog\\x1b[2J \\ud800"), plain_text("Tür\\n")
    ('fog[2J \ufffd', 'Tür\\n')
    """
    return _HALVES.sub("\ufffd", UNSEEN.sub("", text))


# A command of greyscale as it is typed, for people to copy.


def as_typed(*words: Path | str) -> str:
    """Return the command with these words as it can be pasted into a shell of this system."""
    line = ["greyscale", *map(str, words)]
    return subprocess.list2cmdline(line) if os.name == "nt" else shlex.join(line)


# Numbers as they are printed: fixed decimals, a true minus, a dash for what is missing.

MISSING = "–"


def fixed(value: float | None, decimals: int = 2) -> str:
    """Print a number with so many decimals.

    Examples
    --------
    >>> fixed(-0.126), fixed(-0.001), fixed(None)
    ('−0.13', '0.00', '–')
    """
    if value is None:
        return MISSING
    # Adding zero takes the sign off a rounded -0.
    return f"{round(float(value), decimals) + 0.0:.{decimals}f}".replace("-", "−")


def signed(value: float | None, decimals: int = 2) -> str:
    """Print a number with its sign, zero without.

    Examples
    --------
    >>> signed(0.5), signed(-0.5), signed(0.001)
    ('+0.50', '−0.50', '0.00')
    """
    text = fixed(value, decimals)
    return text if value is None or text[0] == "−" or float(text) == 0 else f"+{text}"


# A figure beside its limit: with as many decimals as part them.

_MOST_DECIMALS = 6


def decimals_beside(value: float, limit: float, decimals: int) -> int:
    """Return how many decimals, at least so many, tell a figure from a limit that it is not at.

    Examples
    --------
    >>> decimals_beside(0.0612, 0.06, 2), decimals_beside(0.0604, 0.06, 2)
    (3, 4)
    >>> decimals_beside(0.4, 0.06, 2), decimals_beside(0.06, 0.06, 2)
    (2, 2)
    """
    fine = range(decimals, _MOST_DECIMALS + 1)
    return next((one for one in fine if round(value, one) != round(limit, one)), decimals)


def beside(value: float, limit: float, decimals: int = 2) -> str:
    """Print a number beside a limit: with as many decimals, and at least so many, as part them.

    Examples
    --------
    >>> beside(0.7512, 0.75), beside(1.2, 0.75)
    ('0.751', '1.20')
    """
    return fixed(value, decimals_beside(value, limit, decimals))


# Shares, ranges, ranks.


def percent(share: float) -> str:
    """Return a share of 1 in per cent, with the space that ISO 80000-1 asks for.

    Examples
    --------
    >>> percent(0.784)
    '78 %'
    """
    return f"{100 * share:.0f} %"


def span(limits: tuple[float, float]) -> str:
    """Print two limits with their signs.

    Examples
    --------
    >>> span((-0.5, 1.25))
    '−0.50 to +1.25'
    """
    return f"{signed(limits[0])} to {signed(limits[1])}"


def rank_word(rank: int, tied: bool) -> str:
    """Return a rank; one that is shared as in a race.

    Examples
    --------
    >>> rank_word(1, False), rank_word(2, True)
    ('1', '2=')
    """
    return f"{rank}=" if tied else f"{rank}"


# Times and dates as they are printed.

_MINUTES_TO, _DAYS_FROM = 0.95, 47.5


def time_words(hours: float) -> str:
    """Return a time as a person says it.

    Examples
    --------
    >>> [time_words(hours) for hours in (0.1, 1.46, 24.0, 72.0)]
    ['6 min', '1.5 h', '24 h', '3 days']
    """
    if hours < _MINUTES_TO:
        return f"{60 * hours:.0f} min"
    if hours < _DAYS_FROM:
        return f"{hours:.1f}".removesuffix(".0") + " h" if hours < 10 else f"{hours:.0f} h"
    days = f"{hours / 24:.1f}".removesuffix(".0")
    return f"{days} days"


_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def day(moment: datetime) -> str:
    """Print a day in full, whatever the language of the system.

    Examples
    --------
    >>> day(datetime(2024, 3, 4, 17, 30))
    '4 March 2024'
    """
    return f"{moment.day} {_MONTHS[moment.month - 1]} {moment.year}"


def day_and_time(moment: datetime) -> str:
    """Return a day in full, and the time.

    Examples
    --------
    >>> day_and_time(datetime(2024, 3, 4, 17, 30))
    '4 March 2024, 17:30'
    """
    return f"{day(moment)}, {moment:%H:%M}"


def minute(moment: datetime) -> str:
    """Print day and time in figures, as for a table; midnight stands for a day without time.

    Examples
    --------
    >>> minute(datetime(2024, 3, 4, 17, 30)), minute(datetime(2024, 3, 4))
    ('2024-03-04 17:30', '2024-03-04')
    """
    return f"{moment:%Y-%m-%d %H:%M}".removesuffix(" 00:00")


# Parts of a sentence.


def joined(parts: Sequence[str], last: str = "and", most: int | None = None) -> str:
    """Join as a sentence does; of more than `most` parts, the first of them and how many more.

    Examples
    --------
    >>> joined(["A", "F11", "LED-B3"]), joined(["A", "F11", "LED-B3", "D50"], most=2)
    ('A, F11 and LED-B3', 'A, F11 and 2 more')
    """
    if most is not None and len(parts) > most:
        parts = [*parts[:most], f"{len(parts) - most} more"]
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"
