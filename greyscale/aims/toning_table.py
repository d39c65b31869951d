"""How a toning is read from a CSV table."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array

_EXAMPLE = (
    "name the columns L, a, b (what shall be measured) or L, hue, chroma (beside neutral), and "
    "give three numbers a line, as '50, 2.5, 8.0'"
)


def read_toning_table(path: Path) -> tuple[Array, Array, bool]:
    """Read L* and what belongs to it.

    Three columns separated by comma, semicolon or tab (with the latter two, decimal commas are
    understood), their names in the first line: `L, a, b` or `L, hue, chroma`, hue in degrees.
    Without names, L*, a*, b* are taken. Empty lines and those that start with '#' are passed over.

    Returns
    -------
    L, ab, beside_neutral
        Shapes (n,), rising, and (n, 2); and whether the a*, b* are meant beside the neutral aim,
        as hue and chroma are.

    Raises
    ------
    BadInput
        Naming the line that cannot be used.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput("cannot be read as text; export the table as CSV", path) from error
    polar = False
    rows: dict[float, tuple[float, float]] = {}
    first = True
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        cells = _cells(line)
        values = _numbers(cells)
        if values is None and first:
            polar = _is_polar(cells, path, number)
        elif values is None:
            raise BadInput(f"found '{line.strip()[:60]}'; {_EXAMPLE}", path, number)
        else:
            _add(rows, values, path, number)
        first = False
    if not rows:
        raise BadInput(f"the table is empty; {_EXAMPLE}", path)
    L = np.array(sorted(rows), dtype=np.float64)
    pairs = np.array([rows[tone] for tone in L], dtype=np.float64)
    if polar:
        hue = np.radians(pairs[:, 0])
        pairs = pairs[:, [1]] * np.column_stack([np.cos(hue), np.sin(hue)])
    return L, pairs, polar


def _cells(line: str) -> list[str]:
    separator = next((mark for mark in (";", "\t") if mark in line), ",")
    cells = [cell.strip().strip('"') for cell in line.split(separator)]
    return cells if separator == "," else [cell.replace(",", ".") for cell in cells]


def _numbers(cells: list[str]) -> tuple[float, float, float] | None:
    try:
        L, first, second = (float(cell) for cell in cells[:3])
    except ValueError:
        return None
    return (L, first, second) if np.isfinite([L, first, second]).all() else None


def _is_polar(cells: list[str], path: Path, line: int) -> bool:
    names = [cell.strip("* ").casefold() for cell in cells[:3]]
    if names in (["l", "a", "b"], ["l", "hue", "chroma"]):
        return names[1] == "hue"
    found = ", ".join(cell[:20] for cell in cells[:3])
    raise BadInput(f"the columns are called {found}; {_EXAMPLE}", path, line)


def _add(
    rows: dict[float, tuple[float, float]],
    values: tuple[float, float, float],
    path: Path,
    line: int,
) -> None:
    L, first, second = values
    if not 0.0 <= L <= 100.0:
        raise BadInput(f"found L* {L:g}; it goes from 0 to 100", path, line)
    if L in rows:
        raise BadInput(f"L* {L:g} stands in an earlier line already; keep one", path, line)
    rows[L] = (first, second)
