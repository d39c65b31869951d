"""A preview drawn: two prints side by side, below them, if wanted, where their casts lie."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from greyscale.analysis.neutrality import Cast
from greyscale.analysis.picture import CastShare, reach
from greyscale.applying.bands import dithered
from greyscale.applying.preview import Preview, Side
from greyscale.base.files import whole_stream
from greyscale.base.plain_text import percent
from greyscale.charts.drawing import Letters, letter_mask, text_width, wrapped
from greyscale.colorimetry.arrays import Array, Mask
from greyscale.colorimetry.display import lab_to_srgb
from greyscale.pictures import png
from greyscale.pictures.colour_profiles import srgb_profile
from greyscale.pictures.picture import Form, Metadata, as_16_bits
from greyscale.reporting import page
from greyscale.reporting.analysis_words import LEAST_SHARE, describe_cast, side_words
from greyscale.reporting.figures.labels import label

# Blocks of pixels set beside and below each other: pictures, lines of text, hatching.

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


def blank(width: int) -> Block:
    """Return a row of white, so that what it is set below is at least so wide."""
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
    """Return the lines of a hatch, told from others by how they run; shape (height, width)."""
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


_MARGIN, _GAP, _LINE_GAP = 44, 44, 8
_HEADING, _TEXT = 27.0, 21.0
_BARE = 0.025
"""Bare paper round the picture, share of its longer side."""

_PALE = 0.62
"""The map shows the picture in greys from this on, 0 black to 1 white: lines stand out."""

_LEAST_WIDTH = 640
"""Pixels for the words below a picture."""

_SAMPLE, _GAP_IN_LINE = (30, 56), 16
_SMOOTHED = 2.0
"""Pixels (sd) over which the map looks at levels: areas, not grain, are hatched."""


def preview_sheet(preview: Preview, exaggerate: float, casts: bool) -> Block:
    """Draw a preview, 8-bit sRGB, shape (height, width, 3).

    Parameters
    ----------
    exaggerate
        How many times as strong as they are casts are drawn.
    """
    levels = _enlarged(preview.picture.levels)
    rows = [beside([_panel(levels, side, exaggerate) for side in preview.sides], _GAP)]
    maps = [_map(levels, side) for side in preview.sides] if casts else []
    if preview.correction is None:
        # What is aimed at has no cast: only the print has a map, below itself.
        maps[:1] = [blank(_width(levels))] if maps else []
    if maps:
        rows.append(beside(maps, _GAP))
    width = rows[0].shape[1]
    foot = below(
        [
            text_lines(words, _TEXT, width)
            for words in (where_and_how(preview, exaggerate), *preview.expected, NOT_THE_PRINT)
        ],
        0,
    )
    margins = ((_MARGIN, _MARGIN), (_MARGIN, _MARGIN), (0, 0))
    return np.pad(below([*rows, foot], _GAP), margins, constant_values=WHITE)


def print_as_seen(preview: Preview, side: Side, exaggerate: float) -> Block:
    """Draw one of a preview's two prints by itself, on bare paper, without words."""
    levels = _enlarged(preview.picture.levels)
    return _as_seen(np.pad(levels, _edge(levels), constant_values=1.0), side, exaggerate)


def levels_as_greys(preview: Preview) -> Block:
    """Draw the levels of a preview as greys, 0 to 255, each where `print_as_seen` has it."""
    levels = _enlarged(preview.picture.levels)
    framed_levels = np.pad(levels, _edge(levels), constant_values=1.0)
    greys = np.round(255 * framed_levels).astype(np.uint8)
    return np.repeat(greys[..., np.newaxis], 3, axis=2)


def write_preview(block: Block, path: Path) -> None:
    """Write a drawn preview as PNG, with the profile of sRGB in it."""
    with whole_stream(path) as file:
        write_png(block, file)


def write_png(block: Block, file: BinaryIO) -> None:
    """Write a drawing into an open file as PNG, with the profile of sRGB in it."""
    height, width, _ = block.shape
    # By its name a later run knows whose it is.
    own = Metadata(texts=(("tEXt", b"Software\0greyscale preview"),))
    form = Form(width, height, 3, 0, np.dtype(np.uint8), profile=srgb_profile().data, metadata=own)
    png.write(file, form, iter([block]))


def _enlarged(levels: Array) -> Array:
    """Return the pixels of a tiny picture as squares that can be seen."""
    times = max(1, _LEAST_WIDTH // max(levels.shape))
    return np.repeat(np.repeat(levels, times, axis=0), times, axis=1)


def _panel(levels: Array, side: Side, exaggerate: float) -> Block:
    """Draw one print: its heading, and the picture on bare paper."""
    print_ = _as_seen(np.pad(levels, _edge(levels), constant_values=1.0), side, exaggerate)
    name = f"{side.name}, cast × {exaggerate:g}" if exaggerate > 1 else side.name
    heading = text_line(name[:1].upper() + name[1:], _HEADING, bold=True)
    said = side_words(side)
    words = text_lines(f"{said[:1].upper()}{said[1:]}.", _TEXT, _width(levels))
    return below([heading, print_, words, blank(_width(levels))], _LINE_GAP)


def _edge(levels: Array) -> int:
    """Say how wide the bare paper round a picture is."""
    return max(1, int(_BARE * max(levels.shape)))


def _width(levels: Array) -> int:
    """Say how wide a picture is with its words: even a narrow one is told about."""
    return max(len(levels[0]) + 2 * _edge(levels), _LEAST_WIDTH)


def _as_seen(levels: Array, side: Side, exaggerate: float) -> Block:
    """Draw levels as they print, in sRGB."""
    tones = side.tones.exaggerated(exaggerate)
    colours, _ = lab_to_srgb(tones.lab)
    rgb = np.stack([np.interp(levels, tones.levels, colours[:, c]) for c in range(3)], axis=-1)
    return np.asarray(dithered(as_16_bits(rgb.astype(np.float32)), np.random.default_rng(1)))


def _map(levels: Array, side: Side) -> Block:
    """Draw the picture pale, the areas in each cast hatched, and say what the hatches mean."""
    from scipy.ndimage import gaussian_filter

    areas = gaussian_filter(levels, _SMOOTHED)
    pale = np.round(255 * (_PALE + (1 - _PALE) * levels)).astype(np.uint8)
    lines = []
    shares = side.neutrality.casts
    for index, (cast, share) in enumerate(zip(side.tones.casts, shares, strict=True)):
        low, high = reach(cast, side.tones.measured)
        inside = (areas >= low) & (areas <= high)
        pale[inside & hatch(index, *levels.shape)] = INK
        # What the hatch looks like, and what it stands for.
        sample = np.full((*_SAMPLE, 3), round(255 * 0.9), dtype=np.uint8)
        sample[hatch(index, *_SAMPLE)] = INK
        sample[[0, -1]] = sample[:, [0, -1]] = INK
        room = _width(levels) - _SAMPLE[1] - 2 * _GAP_IN_LINE
        words = text_lines(cast_share_words(cast, share), _TEXT, room)
        lines.append(beside([sample, words], _GAP_IN_LINE))
    if not lines:
        lines.append(text_line("No tone is seen to have a cast.", _TEXT))
    heading = text_line(f"Areas in a cast, {side.name}", _HEADING, bold=True)
    drawn = np.pad(pale, _edge(levels), constant_values=WHITE)
    drawn = np.repeat(drawn[..., np.newaxis], 3, axis=2)
    return below([heading, drawn, *lines, blank(_width(levels))], _LINE_GAP)


# What it shows, in words.

NOT_THE_PRINT = (
    "Simulated: measured tones drawn in sRGB, perfect white as the screen's white, for eyes "
    "adapted to the light. A screen that is not calibrated shows other colours; judge the print "
    "itself."
)

_LONGEST_NAME = 60


def where_and_how(preview: Preview, exaggerate: float) -> str:
    """Say what print is shown, under which light, and whether casts are enlarged."""
    name = label(preview.print_name, _LONGEST_NAME)
    condition = f" ({preview.condition})" if preview.condition else ""
    parts = [f"On {name}{condition}, under {label(preview.light, _LONGEST_NAME)}"]
    if preview.correction is not None:
        parts.append(f"correction '{label(preview.correction, _LONGEST_NAME)}'")
    if exaggerate > 1:
        parts.append(f"casts drawn {exaggerate:g} times as strong as they are")
    return "; ".join(parts) + "."


def cast_share_words(cast: Cast, share: CastShare) -> str:
    """Say a cast's hue, where it is, and how much of the picture lies in it."""
    part = percent(share.share) if share.share >= LEAST_SHARE else "hardly any"
    return f"{part} of the picture: {describe_cast(cast)}"


def preview_report(preview: Preview, exaggerate: float, file: Path) -> page.Report:
    """Return what a preview shows: each side as measured, with the casts in the picture."""
    blocks: list[page.Block] = []
    for side in preview.sides:
        blocks.append(page.Prose(f"{side.name}: {side_words(side)}", at_once=True))
        casts = zip(side.tones.casts, side.neutrality.casts, strict=True)
        if words := tuple(cast_share_words(cast, share) for cast, share in casts):
            blocks.append(page.Points(words, at_once=True))
    return page.Report(
        "Preview",
        where_and_how(preview, exaggerate),
        (),
        (page.Section("", tuple(blocks)),),
        cautions=(NOT_THE_PRINT,),
        remarks=(*preview.expected, *preview.remarks),
        made=(f"The preview is {file}",),
    )
