"""Texts without what nobody sees and a terminal would obey; numbers as they are printed."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
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
