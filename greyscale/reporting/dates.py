"""Dates as they are printed."""

from __future__ import annotations

from datetime import datetime

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
