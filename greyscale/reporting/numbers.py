"""Numbers as they are printed: fixed decimals, a true minus, a dash for what is missing."""

from __future__ import annotations

from datetime import datetime

from greyscale.base.plain_text import MISSING as MISSING
from greyscale.base.plain_text import decimals_beside
from greyscale.base.plain_text import fixed as fixed
from greyscale.base.plain_text import signed as signed


def beside(value: float, limit: float, decimals: int = 2) -> str:
    """Print a number beside a limit: with as many decimals, and at least so many, as part them.

    Examples
    --------
    >>> beside(0.7512, 0.75), beside(1.2, 0.75)
    ('0.751', '1.20')
    """
    return fixed(value, decimals_beside(value, limit, decimals))


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
