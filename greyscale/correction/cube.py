"""How a LUT is written as a .cube file, so that any program that reads .cube can take it."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from pathlib import Path

from greyscale.colorimetry.arrays import Array

DECIMALS = 7
"""Digits after the point: 1e-7 is far below one step of a 16-bit picture (1.5e-5)."""


def write_cube_1d(table: Array, path: Path, title: str, comments: Sequence[str] = ()) -> None:
    """Write three channels, shape (points, 3), as a 1D .cube file.

    Parameters
    ----------
    table
        What each channel's values from 0 to 1 in equal steps become.
    title, comments
        Reduced to what a .cube file can hold (see `cube_text`).
    """
    _write("LUT_1D_SIZE", table, path, title, comments)


def write_cube_3d(table: Array, path: Path, title: str, comments: Sequence[str] = ()) -> None:
    """Write nodes, shape (size, size, size, 3) indexed by red, green, blue, as a 3D .cube file."""
    _write("LUT_3D_SIZE", table, path, title, comments)


def _write(size: str, table: Array, path: Path, title: str, comments: Sequence[str]) -> None:
    """Write a table in a .cube file's order: red changes fastest.

    `colour` writes the same bytes, but takes seconds for the nodes of a 3D LUT.
    """
    rows = table.reshape(-1, 3, order="F") if table.ndim > 2 else table
    row = " ".join([f"%.{DECIMALS}f"] * 3) + "\n"
    head = [f'TITLE "{cube_text(title)}"', *(f"# {cube_text(line)}" for line in comments)]
    head.append(f"{size} {len(table)}\n")
    path.write_text("\n".join(head) + row * len(rows) % tuple(rows.ravel()), encoding="ascii")


def cube_text(text: str) -> str:
    """Reduce a text to one line of ASCII without quotation marks, as every reader can take it.

    Examples
    --------
    >>> cube_text('Baryta, "première"')
    "Baryta, 'premiere'"
    """
    plain = text.translate({0xDF: "ss", 0xD7: "x", 0x2013: "-", 0x2014: "-"})
    plain = unicodedata.normalize("NFKD", plain)
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = plain.encode("ascii", "replace").decode("ascii")
    return " ".join(plain.replace('"', "'").split())
