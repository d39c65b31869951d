"""When two names are the same, and what somebody may have meant by one that is not there."""

from __future__ import annotations

import difflib
import os
import unicodedata
from collections.abc import Iterable
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import plain_text

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
    word
        What was written.
    known
        The names there are.
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
    by_lower = {name.lower(): name for name in known}
    near = difflib.get_close_matches(word.lower(), by_lower, n=1, cutoff=_LIKE)
    return by_lower[near[0]] if near else None
