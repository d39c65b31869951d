"""A chart that says which it is: a few patches whose order is a code, read back from their L*.

Paper, two greys and black come first and show what is what; twelve more follow, no two neighbours
alike. Which of the three others each is, is a digit; the digits are a number of the chart's other
patches and of the correction that they were sent through, with a check sum.
"""

from __future__ import annotations

import hashlib
from itertools import pairwise

import numpy as np

from greyscale.checks.case import along_strips
from greyscale.checks.finding import Finding
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.readings.assemble import LACKING
from greyscale.readings.iso28178 import SKIPPED
from greyscale.readings.reading import Reading

SYMBOLS = (1.0, 170 / 255, 85 / 255, 0.0)
"""Levels, in whole codes of 8 and of 16 bits."""

DIGITS = 12
LENGTH = len(SYMBOLS) + DIGITS
"""Patches of a code; the first of the chart."""

REPEATED = len(SYMBOLS)
"""Repeats that a chart with a code needs no more: of the four, each is in it about four times."""

_NUMBER_BITS, _CHECK_BITS = 12, 7  # Together below 3 ** 12.
_LEAST_GAP = 4.0
_NEAR = 0.4
"""A grey counts as one of the four where it is nearer than this share of the gap to the next."""

_WHOLE = 1e-3  # So near to whole, values were not rounded.

CODE = "code"
"""The reason of such a patch."""


def code_of(device: ArrayLike, through: str | None) -> int:
    """The number of a chart, 0 to 4095.

    Parameters
    ----------
    device
        Shape (n, 3): its other patches, in the order of their places.
    through
        The title of the correction that it is sent through; None without one.
    """
    values = np.round(np.asarray(device, dtype=np.float64) * 65535).astype("<i4")
    digest = hashlib.sha256(values.tobytes())
    digest.update((through or "").encode("utf-8"))
    return int.from_bytes(digest.digest()[:4], "big") >> (32 - _NUMBER_BITS)


def code_levels(number: int) -> Array:
    """The levels of a code's patches, shape (16,).

    Examples
    --------
    >>> levels = code_levels(1234)
    >>> read_levels(levels) == 1234, len(levels), float(abs(np.diff(levels)).min()) > 0.3
    (True, 16, True)
    """
    whole = number << _CHECK_BITS | _check(number)
    symbols = list(range(len(SYMBOLS)))
    for _ in range(DIGITS):
        whole, digit = divmod(whole, 3)
        symbols.append(_others(symbols[-1])[digit])
    return np.array([SYMBOLS[symbol] for symbol in symbols])


def read_levels(level: ArrayLike) -> int | None:
    """The number that the levels of a chart's first patches are the code of, or None."""
    given = np.asarray(level, dtype=np.float64)
    if len(given) < LENGTH:
        return None
    apart = np.abs(given[:LENGTH, np.newaxis] - np.array(SYMBOLS))
    return None if apart.min(axis=1).max() > 0.01 else _number(apart.argmin(axis=1).tolist())


def read_lightness(L: ArrayLike) -> int | None:
    """The number that the L* of a chart's first patches say, or None where they say none.

    Parameters
    ----------
    L
        Shape (16,).
    """
    given = np.asarray(L, dtype=np.float64)
    known = given[: len(SYMBOLS)]
    gaps = -np.diff(known)
    if len(given) != LENGTH or gaps.min() < _LEAST_GAP:
        return None
    apart = np.abs(given[:, np.newaxis] - known)
    nearest = apart.argmin(axis=1)
    # Of the gaps on either side the smaller one.
    own = np.minimum(np.append(gaps, np.inf), np.insert(gaps, 0, np.inf))[nearest]
    if np.any(apart.min(axis=1) > _NEAR * own):
        return None
    return _number(nearest.tolist())


def _number(symbols: list[int]) -> int | None:
    if symbols[: len(SYMBOLS)] != list(range(len(SYMBOLS))):
        return None
    whole = 0
    for before, symbol in reversed(list(pairwise(symbols[3:]))):
        if symbol == before:
            return None
        whole = 3 * whole + _others(before).index(symbol)
    number, check = whole >> _CHECK_BITS, whole & (1 << _CHECK_BITS) - 1
    return number if number < 1 << _NUMBER_BITS and check == _check(number) else None


def _others(symbol: int) -> list[int]:
    return [one for one in range(len(SYMBOLS)) if one != symbol]


def _check(number: int) -> int:
    return hashlib.sha256(number.to_bytes(2, "big")).digest()[0] >> (8 - _CHECK_BITS)


def by_place(reading: Reading) -> list[int]:
    """The rows of a reading in the order of their places, or of the file where it has none."""
    rows = list(range(len(reading)))
    places = reading.places
    return rows if places is None else sorted(rows, key=lambda row: along_strips(places[row]))


def stated_and_measured(reading: Reading) -> tuple[int | None, int | None]:
    """The number that a reading's device values say of its chart, and the one that L* says.

    Both are None where the chart bears no code.
    """
    rows = by_place(reading)[:LENGTH]
    stated = read_levels(reading.level[rows])
    return stated, None if stated is None else read_lightness(reading.lab[rows, 0])


def through_of(reading: Reading, titles: list[str]) -> str | None:
    """Say through which of some corrections a reading's chart was sent; "" for none of any.

    Returns
    -------
    None where the chart bears no code, patches are missing, or it was another correction.
    """
    stated, measured = stated_and_measured(reading)
    if stated is None or measured != stated:
        return None
    rest = reading.device[by_place(reading)[LENGTH:]]
    return next((one for one in ["", *titles] if code_of(rest, one) == measured), None)


CODE_SAYS = "its sheet's own code says"
"""A remark with these words doubts how a sheet was sent."""


def doubt_of_sending(reading: Reading, through: str | None = None) -> str | None:
    """A sentence where a sheet's own code speaks against how it is held to have been sent.

    Parameters
    ----------
    through
        The title of the correction that it is taken as sent through; None for none.

    Returns
    -------
    None where the code agrees, the chart bears none, a program rounded its device values, or its
    layout, of which patches are missing, says that it was sent without.
    """
    by_layout = through is None and any(one.startswith(LACKING) for one in reading.remarks)
    if by_layout or not _speaks_against(reading, through):
        return None
    held, said = "without a correction", "through one"
    if through is not None:
        held, said = f"through '{through}'", "otherwise"
    return (
        f"'{reading.name}' is taken as sent {held}, but {CODE_SAYS} that it was sent {said}, "
        "unless patches are missing."
    )


def sent_otherwise(reading: Reading, through: str | None = None) -> bool:
    """Whether a sheet that lacks no patch, but perhaps its last, says it was sent otherwise."""
    return _speaks_against(reading, through) and _is_whole(reading)


def proof_words(reading: Reading) -> tuple[str, ...]:
    """A sentence where a reading says that it is of a proof, and not of an uncorrected print."""
    if reading.sent_through is not None:
        return (
            f"A proof: printed through the correction '{reading.sent_through}', its layout or file "
            "says, and no uncorrected print.",
        )
    if sent_otherwise(reading):
        return (
            f"A proof, no uncorrected print, if no patches at its end are missing: {CODE_SAYS} "
            "that it was sent through a correction. If some are, its layout (--layout) settles it.",
        )
    return ()


def _speaks_against(reading: Reading, through: str | None) -> bool:
    stated, measured = stated_and_measured(reading)
    taken = [] if through is None else [through]
    if stated is None or measured != stated or through_of(reading, taken) is not None:
        return False
    codes = [reading.device * most for most in (255, 65535)]
    return any(np.abs(one - np.round(one)).max() <= _WHOLE for one in codes)


def _is_whole(reading: Reading) -> bool:
    """Whether patches follow each other without a gap, as their ids count them; how many there
    were to be, a layout alone tells.
    """
    if any(remark.startswith((SKIPPED, LACKING)) for remark in reading.remarks):
        return False
    ids = [reading.ids[row] for row in by_place(reading)]
    return all(one.isdecimal() and int(one) == at for at, one in enumerate(ids, start=1))


def another_chart(reading: Reading) -> Finding | None:
    """What is wrong where the sheet says that it is another than the reading's device values."""
    stated, measured = stated_and_measured(reading)
    if stated is None or measured is None or stated == measured:
        return None
    rest = reading.device[by_place(reading)[LENGTH:]]
    plain = measured == code_of(rest, None)
    what = (
        f"the same chart, sent without the correction '{reading.sent_through}'"
        if plain and reading.sent_through
        else f"chart {measured:04d}, not {stated:04d}"
    )
    return Finding(
        kind="another chart",
        where=f"patches 1 to {LENGTH}",
        probability=1.0 - 0.5**_CHECK_BITS,
        found=f"The sheet's own code says that it is {what}.",
        advice="Give the layout that was made with this chart, or measure the sheet that this "
        "layout belongs to.",
        ids=tuple(reading.ids[row] for row in by_place(reading)[:LENGTH]),
    )
