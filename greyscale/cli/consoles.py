"""Consoles that lack letters: what is shown there instead, so that nothing ends in an error."""

from __future__ import annotations

import codecs
import io
import sys
import unicodedata

_ONE_FOR_ONE = {
    "Δ": "d", "−": "-", "–": "-", "—": "-", "×": "x", "→": ">", "←": "<", "≤": "<", "≥": ">",
    "✓": "+", "✗": "x", "′": "'", "″": '"', "…": "~", "•": "*", "°": "o", "·": ".", "±": "~",
    "“": '"', "”": '"', "‘": "'", "’": "'", "│": "|", "─": "-", "━": "-", "┃": "|",
}  # fmt: skip
"""One sign for one, so that columns stay in line."""

_HANDLER = "greyscale-nearest-sign"


def suit_console() -> None:
    """Make standard output and error show the nearest sign where their encoding lacks one."""
    codecs.register_error(_HANDLER, _nearest_sign)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=_HANDLER)


def _nearest_sign(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    missing = error.object[error.start : error.end]
    return "".join(_instead(sign) for sign in missing), error.end


def _instead(sign: str) -> str:
    if sign in _ONE_FOR_ONE:
        return _ONE_FOR_ONE[sign]
    plain = unicodedata.normalize("NFKD", sign)[0]
    return plain if plain.isascii() else "?"
