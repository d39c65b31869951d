"""The one error that a person's file or option can cause."""

from __future__ import annotations

import re
from collections.abc import Sequence

from greyscale.base.plain_text import UNSEEN

LONGEST = 1000
"""Characters of a message; what a damaged file holds may be far longer."""

_UNSEEN = re.compile(rf"[\t\n\r\f\u2028\u2029\ud800-\udfff]|{UNSEEN.pattern}")
"""What moves a terminal's cursor, turns its text round, or cannot be shown at all."""


class BadInput(Exception):
    """Input that cannot be used: says where, what was found, and what to do.

    The command line shows the message alone and ends with exit code 2.

    Parameters
    ----------
    message
        What was found, and what to do about it, as one or two plain sentences.
    source
        The file's path (or an option's name), if there is one.
    line
        The line in that file, counted from 1.
    choices
        What there is to choose from, each on a line of its own below.

    Examples
    --------
    >>> print(BadInput("the file is empty; export the reading again", "ramp.txt", 1))
    ramp.txt, line 1: the file is empty; export the reading again
    """

    def __init__(
        self,
        message: str,
        source: object | None = None,
        line: int | None = None,
        choices: Sequence[str] = (),
    ) -> None:
        self.message = "\n".join(map(shown, (message, *choices)))
        self.source = None if source is None else shown(str(source))
        self.line = line
        place = "" if self.source is None else self.source
        if line is not None:
            place += f", line {line}"
        super().__init__(f"{place}: {self.message}" if place else self.message)


def shown(text: str) -> str:
    """Return a text as a terminal can show it: nothing hidden in it, its middle left out if long.

    Examples
    --------
    >>> shown("the name '\x1b[2J'"), len(shown("x" * 5000))
    ("the name '\\\\x1b[2J'", 1000)
    """
    seen = _UNSEEN.sub(lambda found: found.group().encode("unicode_escape").decode("ascii"), text)
    return seen if len(seen) <= LONGEST else f"{seen[: LONGEST - 303]} … {seen[-300:]}"
