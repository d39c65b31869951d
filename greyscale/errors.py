"""The one error that a person's file or option can cause."""

from __future__ import annotations


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

    Examples
    --------
    >>> print(BadInput("the file is empty; export the reading again", "ramp.txt", 1))
    ramp.txt, line 1: the file is empty; export the reading again
    """

    def __init__(self, message: str, source: object | None = None, line: int | None = None) -> None:
        self.message = message
        self.source = None if source is None else str(source)
        self.line = line
        place = "" if self.source is None else self.source
        if line is not None:
            place += f", line {line}"
        super().__init__(f"{place}: {message}" if place else message)
