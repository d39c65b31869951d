"""Words of a table as numbers: decimal points or commas, and what is no number is named."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from operator import itemgetter

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array

_WITH_COMMA = re.compile(r"[+-]?\d*,\d+(?:[eE][+-]?\d+)?|[+-]?\d+,")


def to_number(text: str) -> float | None:
    """Return the finite number that a word states, or None.

    Examples
    --------
    >>> to_number("0,25"), to_number("1e2"), to_number("nan"), to_number("n/a")
    (0.25, 100.0, None, None)
    """
    word = text.strip().replace("\u2212", "-")  # The minus of typographers.
    if _WITH_COMMA.fullmatch(word):
        word = word.replace(",", ".")
    try:
        value = float(word)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def to_numbers(
    rows: Sequence[Sequence[str]],
    columns: Sequence[int],
    names: Sequence[str],
    lines: Sequence[int],
    source: object,
) -> Array:
    """Turn columns of words into an array of shape (rows, columns).

    Raises
    ------
    BadInput
        Naming line and field of the first word that is no number, is missing or not finite.
    """
    try:
        # The first column twice: of one alone its word would come, and no tuple.
        words = itemgetter(columns[0], *columns)
        values = np.array([[*map(float, words(row))] for row in rows], dtype=np.float64)
        if np.isfinite(values).all():
            return values.reshape(len(rows), -1)[:, 1:]
    except ValueError:
        pass
    values = np.empty((len(rows), len(columns)))
    for k, (row, line) in enumerate(zip(rows, lines, strict=True)):
        for j, i in enumerate(columns):
            value = to_number(row[i])
            if value is None:
                word = row[i].strip()
                found = f"{names[j]} is '{word[:40]}', which is not a number"
                if not word:
                    found = f"{names[j]} is missing"
                raise BadInput(f"{found}; measure this patch again or put it right", source, line)
            values[k, j] = value
    return values
