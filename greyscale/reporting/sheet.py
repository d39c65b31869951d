"""Blocks of pixels set beside and below each other: pictures, lines of text, hatching."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from greyscale.charts.lettering import Letters, letter_mask, text_width, wrapped
from greyscale.colorimetry.arrays import Mask

Block = NDArray[np.uint8]
"""Pixels, shape (height, width, 3)."""

WHITE = 255
INK = 26
"""Of text and lines: dark, and exactly neutral beside greys."""

PERIOD = 14
"""Pixels from one line of a hatch to the next."""

_LINE = 2


def beside(blocks: Sequence[Block], gap: int) -> Block:
    """Set blocks in a row, their upper borders level."""
    height = max(len(block) for block in blocks)
    parts = [_filled(block, height, block.shape[1]) for block in blocks]
    between = np.full((height, gap, 3), WHITE, dtype=np.uint8)
    return np.concatenate(_with_between(parts, between), axis=1)


def below(blocks: Sequence[Block], gap: int) -> Block:
    """Set blocks in a column, their left borders in line."""
    width = max(block.shape[1] for block in blocks)
    parts = [_filled(block, len(block), width) for block in blocks]
    between = np.full((gap, width, 3), WHITE, dtype=np.uint8)
    return np.concatenate(_with_between(parts, between), axis=0)


def framed(block: Block, margin: int) -> Block:
    """Set white all round a block."""
    return np.pad(block, ((margin, margin), (margin, margin), (0, 0)), constant_values=WHITE)


def blank(width: int) -> Block:
    """Give a row of white, so that what it is set below is at least so wide."""
    return np.full((1, width, 3), WHITE, dtype=np.uint8)


def text_line(text: str, size: float, bold: bool = False) -> Block:
    """Set a line of text."""
    height, width = ceil(1.35 * size), max(1, ceil(text_width(text, size, bold)) + 2)
    block = np.full((height, width), float(WHITE))
    cover, left, top = letter_mask(Letters(text, 1.0, 1.05 * size, size, bold=bold))
    rows = slice(max(top, 0), min(top + cover.shape[0], height))
    columns = slice(max(left, 0), min(left + cover.shape[1], width))
    part = cover[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left]
    block[rows, columns] += part * (INK - WHITE)
    return np.repeat(np.round(block).astype(np.uint8)[..., np.newaxis], 3, axis=2)


def text_lines(text: str, size: float, width: int) -> Block:
    """Set a text in lines no wider than `width`, broken at spaces."""
    broken = wrapped(tuple(text.split()), " ", size, width)
    return below([text_line(line, size) for line in broken], 0)


def hatch(index: int, height: int, width: int) -> Mask:
    """Give the lines of a hatch, told from others by how they run; shape (height, width)."""
    y, x = np.mgrid[0:height, 0:width]

    def lines(along: Any) -> Mask:
        return np.asarray(along % PERIOD < _LINE)

    ways = (
        lambda: lines(x + y),
        lambda: lines(x - y),
        lambda: lines(y),
        lambda: lines(x),
        lambda: lines(x + y) | lines(x - y),
        lambda: lines(x) | lines(y),
        lambda: (x % PERIOD < 2 * _LINE) & (y % PERIOD < 2 * _LINE),
    )
    return ways[index % len(ways)]()


def _filled(block: Block, height: int, width: int) -> Block:
    missing = ((0, height - block.shape[0]), (0, width - block.shape[1]), (0, 0))
    return np.pad(block, missing, constant_values=WHITE)


def _with_between(parts: Sequence[Block], between: Block) -> list[Block]:
    return [one for part in parts for one in (between, part)][1:]
