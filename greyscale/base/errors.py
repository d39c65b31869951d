"""A mistake of the person who runs a command, and what they may have meant."""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import Path

from greyscale.base.plain_text import UNSEEN, plain_text

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


_LIKE = 0.6


def name_key(name: str) -> str:
    """The name without regard to case, spaces, ways of writing a letter and signs nobody sees.

    Examples
    --------
    >>> name_key(" Cotton  RAG"), name_key("bru\\u0302le\\u0301") == name_key("BR\\u00dbL\\u00c9")
    ('cotton rag', True)
    """
    # Folding may bring letters apart, and composing them anew: Unicode 3.13, definition D145.
    composed = unicodedata.normalize("NFKC", plain_text(name)).casefold()
    return " ".join(unicodedata.normalize("NFKC", composed).split())


def same_name(one: str, other: str) -> bool:
    """Whether a person means the same by two names of a printer, a paper, settings, ...

    Examples
    --------
    >>> same_name("Cotton Rag", "cotton  rag"), same_name("lustre 260", "lustre")
    (True, False)
    """
    return name_key(one) == name_key(other)


def did_you_mean(word: str, known: Iterable[str], *, files: bool = False) -> str:
    """Ask back with the nearest known name, to be put before the list of all.

    Parameters
    ----------
    files
        Whether a file may be named instead; those beside the path are looked at as well.

    Returns
    -------
    A question and a space, or nothing where no name is near.

    Examples
    --------
    >>> did_you_mean("fadin", ["fading", "adapting"])
    'did you mean fading? '
    >>> did_you_mean("x", ["fading", "adapting"])
    ''
    """
    near = _nearest(word, known)
    if near is None and files:
        found = near_path(Path(word))
        near = None if found is None else str(found)
    return "" if near is None else f"did you mean {near}? "


def not_known(
    what: str,
    word: str,
    known: Iterable[str],
    *,
    files: bool = False,
    besides: str = "",
    source: object | None = None,
) -> BadInput:
    """Make the error for a name that there is not: with the nearest, and all there are.

    Parameters
    ----------
    what, word, known, files
        What is named, and as in `did_you_mean`.
    besides
        What else may be given, to follow the names.

    Examples
    --------
    >>> print(not_known("scaling", "lineal", ["linear", "none"]))
    the scaling 'lineal' is not known; did you mean linear? take one of linear, none
    """
    asked = did_you_mean(word, known, files=files)
    names = ", ".join(known)
    return BadInput(
        f"the {what} '{word}' is not known; {asked}take one of {names}{besides}", source
    )


def near_path(path: Path) -> Path | None:
    """What stands in the same folder under the name most like a path's, if any is like it."""
    try:
        names = sorted(entry.name for entry in path.parent.iterdir() if entry.name != path.name)
    except (OSError, ValueError):
        return None
    near = _nearest(path.name, [name for name in names if not name.startswith(".")])
    return None if near is None else path.parent / near


def no_such_file(path: Path | str) -> BadInput:
    """Make the error for a path that leads nowhere: with the nearest name, or the missing folder.

    Examples
    --------
    >>> print(no_such_file("no-such-folder/ramp.txt"))
    no-such-folder/ramp.txt: there is no such file, nor a folder no-such-folder
    """
    missing = Path(path)
    above: Path | None = None
    while not os.path.isdir(missing.parent) and missing.parent != missing:
        missing = above = missing.parent
    near = near_path(missing)
    question = "" if near is None else f"; did you mean {near}?"
    folder = "" if above is None else f", nor a folder {above}"
    return BadInput(f"there is no such file{folder}{question}", path)


def _nearest(word: str, known: Iterable[str]) -> str | None:
    import difflib

    by_lower = {name.lower(): name for name in known}
    near = difflib.get_close_matches(word.lower(), by_lower, n=1, cutoff=_LIKE)
    return by_lower[near[0]] if near else None
