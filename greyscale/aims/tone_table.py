"""How a tone aim is read from a CSV table of level and L*."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array

_EXAMPLE = "each line needs a level (0 to 1) and an L*, as '0.5, 54.0'"


def read_tone_table(path: Path) -> tuple[Array, Array]:
    """Read levels and L*.

    One pair a line, separated by comma, semicolon or tab; with semicolons or tabs a decimal
    comma is understood. Empty lines, lines that start with '#', and one line of column names
    are passed over. Lines may come in any order.

    Returns
    -------
    levels, L
        Shape (n,) each, levels rising from 0 to 1, L* rising.

    Raises
    ------
    BadInput
        For a line that holds no pair, and for a table that does not reach from level 0 to 1, or
        whose L* falls.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput("cannot be read as text; export the table as CSV", path) from error
    rows: dict[float, tuple[float, int]] = {}
    named = False
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        pair = _pair(line)
        if pair is None and not rows and not named:
            named = True  # column names
            continue
        if pair is None:
            raise BadInput(f"found '{line.strip()[:60]}'; {_EXAMPLE}", path, number)
        level, L = pair
        if not (0.0 <= level <= 1.0 and 0.0 <= L <= 100.0):
            raise BadInput(
                f"found level {level:g} and L* {L:g}; levels go from 0 to 1, L* from 0 to 100",
                path,
                number,
            )
        if level in rows:
            raise BadInput(
                f"level {level:g} stands in line {rows[level][1]} already; keep one", path, number
            )
        rows[level] = (L, number)
    return _checked(path, rows)


def _pair(line: str) -> tuple[float, float] | None:
    separator = next((mark for mark in (";", "\t") if mark in line), ",")
    cells = [cell.strip().strip('"') for cell in line.split(separator)]
    if separator != ",":
        cells = [cell.replace(",", ".") for cell in cells]
    try:
        level, L = float(cells[0]), float(cells[1])
    except (ValueError, IndexError):
        return None
    return (level, L) if np.isfinite([level, L]).all() else None


def _checked(path: Path, rows: dict[float, tuple[float, int]]) -> tuple[Array, Array]:
    levels = np.array(sorted(rows), dtype=np.float64)
    L = np.array([rows[level][0] for level in levels], dtype=np.float64)
    if levels.size < 2 or levels[0] != 0.0 or levels[-1] != 1.0:
        raise BadInput("the table must reach from level 0 to level 1; add the missing lines", path)
    falls = np.flatnonzero(np.diff(L) <= 0)
    if falls.size:
        where = levels[falls[0] + 1]
        raise BadInput(
            f"L* does not rise up to level {where:g}; a higher level must aim at a higher L*",
            path,
            rows[float(where)][1],
        )
    return levels, L
