"""How a LUT is written as a .cube file, so that any program that reads .cube can take it."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from pathlib import Path

import numpy as np

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
    head = [f'TITLE "{cube_text(title)}"', *_commented(comments), f"LUT_1D_SIZE {len(table)}"]
    _write(path, [*head, *_rows(table)])


def write_cube_3d(
    table: Array,
    path: Path,
    title: str,
    comments: Sequence[str] = (),
    shaper: Array | None = None,
) -> None:
    """Write nodes, shape (size, size, size, 3) indexed by red, green, blue, as a 3D .cube file.

    Parameters
    ----------
    shaper
        Shape (points,): a 1D LUT to be applied to each channel before. It stands in the same
        file; such a file has no title, which its readers refuse, but a comment.
    """
    size = f"LUT_3D_SIZE {len(table)}"
    # Red varies fastest.
    nodes = _rows(table.transpose(2, 1, 0, 3).reshape(-1, 3))
    if shaper is None:
        head = [f'TITLE "{cube_text(title)}"', *_commented(comments), size]
        _write(path, [*head, *nodes])
        return
    head = [f"# {cube_text(title)}", *_commented(comments), f"LUT_1D_SIZE {len(shaper)}", size]
    channels = np.repeat(shaper[:, np.newaxis], 3, axis=1)
    _write(path, [*head, *_rows(channels), "", *nodes])


def _commented(lines: Sequence[str]) -> list[str]:
    return [f"# {cube_text(line)}" for line in lines]


def _rows(table: Array) -> list[str]:
    form = " ".join([f"{{:.{DECIMALS}f}}"] * 3).format
    return [form(*row) for row in table.tolist()]


def _write(path: Path, lines: Sequence[str]) -> None:
    path.write_text("\n".join(lines) + "\n", encoding="ascii", newline="\n")


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
