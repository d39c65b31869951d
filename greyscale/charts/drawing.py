"""A chart's page as TIFF and PDF: its patches, gaps, labels, corner marks, caption, letters."""

from __future__ import annotations

import warnings
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from itertools import groupby
from math import ceil, floor
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from greyscale.base.libraries import import_matplotlib
from greyscale.charts.page import (
    ARROW_MM,
    INSET_MM,
    LABEL_MM,
    MM_PER_INCH,
    PT_PER_INCH,
    Box,
    Grid,
    Sheet,
    strip_letters,
)
from greyscale.colorimetry.arrays import Array

HAND_WRITTEN = ("Printer", "Paper", "Settings", "Printed", "Measured", "Condition")
"""What the foot of a page has room to write down."""

HOW_TO_READ = (
    "Print at 100 % with colour management off.",
    "Let it dry before you measure.",
    "Read each strip along its arrow, from bare paper to bare paper.",
)

_TITLE_PT, _TEXT_PT, _LABEL_PT, _NUMBER_PT = 11.0, 7.0, 11.0, 5.5
_TITLE_MM, _LINE_MM, _AFTER_HEAD_MM = 5.5, 3.4, 2.5
_FIELD_ROW_MM, _FIELD_MM = 8.0, 42.0
_RULE_MM, _MARK_MM, _DOT_MM = 0.25, 4.0, 1.8
_GAP_LEVELS = np.array([0.0, 0.5, 1.0])


@dataclass(frozen=True)
class Caption:
    """What a page says of its chart: its name, and the settings, part by part."""

    name: str
    settings: tuple[str, ...]


@dataclass(frozen=True)
class PageDrawing:
    """A page ready to be drawn: on white, boxes of device values, then letters in black.

    Attributes
    ----------
    width, height
        In pixels.
    dpi
        Pixels per inch.
    boxes
        Each with its R, G, B from 0 to 1.
    """

    width: int
    height: int
    dpi: int
    boxes: tuple[tuple[Box, tuple[float, float, float]], ...]
    letters: tuple[Letters, ...]


def head_and_foot(caption: Caption, width_mm: float, margin_mm: float) -> tuple[float, float]:
    """Return the heights in mm of what stands above the strips and below them."""
    inner = width_mm - 2 * (margin_mm + INSET_MM)
    lines = len(_head_lines(caption, inner))
    rows = -(-len(HAND_WRITTEN) // _fields_per_row(inner))
    return _TITLE_MM + lines * _LINE_MM + _AFTER_HEAD_MM, rows * _FIELD_ROW_MM + 1.0


def gap_level(left: Sequence[float] | Array, right: Sequence[float] | Array) -> float:
    """Choose the level of a gap so that an instrument sees it between two neighbours.

    Parameters
    ----------
    left, right
        Device values of the neighbours, shape (3,).

    Returns
    -------
    0, 0.5 or 1: the one farther from both. It is at least a quarter of the scale away from
    their levels, for each neighbour can lie close to one of the three only.

    Examples
    --------
    >>> gap_level([1, 1, 1], [0.9, 0.9, 0.9]), gap_level([0, 0, 0], [1, 1, 1])
    (0.0, 0.5)
    """
    neighbours = np.array([np.mean(left), np.mean(right)])
    away = np.abs(_GAP_LEVELS[:, np.newaxis] - neighbours).min(axis=1)
    return float(_GAP_LEVELS[int(np.argmax(away))])


def draw_page(sheet: Sheet, grid: Grid, device: Array, caption: Caption, page: int) -> PageDrawing:
    """Lay out one page.

    Parameters
    ----------
    sheet, grid
        The page, and where patches go.
    device
        Shape (n, 3): the patches in order of their places.
    page
        Which page, counted from 0.
    """
    boxes = [*_patches_and_gaps(grid, device, page), *_arrows(sheet, grid, page)]
    if grid.one_sheet and page:
        # Head, foot and corners are on the sheet already.
        labels = tuple(_labels(sheet, grid, page))
        return PageDrawing(sheet.width, sheet.height, sheet.dpi, tuple(boxes), labels)
    boxes += _corner_marks(sheet)
    foot_boxes, foot_letters = _foot(sheet)
    letters = [
        *_head(sheet, caption, page, grid.pages, grid.one_sheet),
        *_labels(sheet, grid, page),
        *foot_letters,
    ]
    return PageDrawing(sheet.width, sheet.height, sheet.dpi, (*boxes, *foot_boxes), tuple(letters))


_Drawn = tuple[Box, tuple[float, float, float]]


def _black(box: Box) -> _Drawn:
    return box, (0.0, 0.0, 0.0)


def _strips_of(grid: Grid, page: int) -> range:
    first = page * grid.strips_per_page
    return range(first, min(first + grid.strips_per_page, grid.strips))


def _pointer(box: Box) -> list[Box]:
    """Return a triangle over a box, its point to the right, as rows of pixels."""
    middle, half = (box.top + box.bottom - 1) / 2, (box.bottom - box.top) / 2
    wide = box.right - box.left
    rows = []
    for y in range(box.top, box.bottom):
        reach = round(wide * (1 - abs(y - middle) / half))
        if reach > 0:
            rows.append(Box(box.left, y, box.left + reach, y + 1))
    return rows


def _arrows(sheet: Sheet, grid: Grid, page: int) -> list[_Drawn]:
    """Begin each strip with an arrow: which way to read it, and which end is which."""
    left = sheet.pixels(sheet.margin_mm + INSET_MM) + sheet.pixels(LABEL_MM)
    right = left + sheet.pixels(ARROW_MM)
    drawn = []
    for strip in _strips_of(grid, page):
        row = grid.box(strip * grid.per_strip)
        drawn += [_black(one) for one in _pointer(Box(left, row.top, right, row.bottom))]
    return drawn


def _patches_and_gaps(grid: Grid, device: Array, page: int) -> list[_Drawn]:
    """Lay out patches, and between them bars that an instrument sees, each with a small point."""
    bar = max(1, round(0.6 * grid.gap))
    drawn: list[_Drawn] = []
    for strip in _strips_of(grid, page):
        start = strip * grid.per_strip
        values = device[start : start + grid.strip_length(strip)]
        # Strips start and end on bare paper.
        with_paper = np.vstack([np.ones(3), values, np.ones(3)])
        for number in range(len(values) + 1):
            level = gap_level(with_paper[number], with_paper[number + 1])
            row = grid.box(start)
            left = row.left - grid.gap + number * grid.step
            third = (row.bottom - row.top) // 3
            point = Box(left + bar, row.top + third, left + grid.gap, row.bottom - third)
            whole = Box(left, row.top, left + bar, row.bottom)
            drawn += [(box, (level,) * 3) for box in (whole, *_pointer(point))]
        for number, (red, green, blue) in enumerate(values.tolist()):
            drawn.append((grid.box(start + number), (red, green, blue)))
    return drawn


def _corner_marks(sheet: Sheet) -> list[_Drawn]:
    """Draw an angle in each corner, and a square in the upper left one: this way up."""
    margin, arm = sheet.pixels(sheet.margin_mm), sheet.pixels(_MARK_MM)
    line = max(1, sheet.pixels(_RULE_MM))
    drawn = []
    for right in (False, True):
        x = sheet.width - margin if right else margin
        for low in (False, True):
            y = sheet.height - margin if low else margin
            across = (x - arm, x) if right else (x, x + arm)
            down = (y - arm, y) if low else (y, y + arm)
            thin_x = (x - line, x) if right else (x, x + line)
            thin_y = (y - line, y) if low else (y, y + line)
            drawn.append(_black(Box(across[0], thin_y[0], across[1], thin_y[1])))
            drawn.append(_black(Box(thin_x[0], down[0], thin_x[1], down[1])))
    near, dot = margin + sheet.pixels(0.9), sheet.pixels(_DOT_MM)
    drawn.append(_black(Box(near, near, near + dot, near + dot)))
    return drawn


def _points(sheet: Sheet, points: float) -> float:
    return points * sheet.dpi / PT_PER_INCH


def _head_lines(caption: Caption, inner_mm: float) -> tuple[str, ...]:
    size = _TEXT_PT * MM_PER_INCH / PT_PER_INCH
    return (
        *wrapped(caption.settings, " · ", size, inner_mm),
        *wrapped(HOW_TO_READ, " ", size, inner_mm),
    )


def _head(sheet: Sheet, caption: Caption, page: int, pages: int, one_sheet: bool) -> list[Letters]:
    left, top = sheet.margin_mm + INSET_MM, sheet.margin_mm + INSET_MM
    inner = sheet.size.width - 2 * left
    title_size = _points(sheet, _TITLE_PT)
    # A long name is set smaller, and cut where that would not be legible.
    room = sheet.pixels(inner - 25.0)
    wide = text_width(caption.name, title_size, bold=True)
    title_size = max(_points(sheet, _TEXT_PT), title_size * min(1.0, room / max(wide, 1.0)))
    baseline = top + 3.5
    name = shortened(caption.name, title_size, room, bold=True)
    letters = [
        Letters(name, sheet.pixels(left), sheet.pixels(baseline), title_size, bold=True),
        Letters(
            "one sheet for all" if one_sheet else f"page {page + 1} of {pages}",
            sheet.width - sheet.pixels(left),
            sheet.pixels(baseline),
            _points(sheet, _TEXT_PT),
            align="right",
        ),
    ]
    for index, line in enumerate(_head_lines(caption, inner)):
        y = sheet.pixels(top + _TITLE_MM + (index + 0.75) * _LINE_MM)
        letters.append(Letters(line, sheet.pixels(left), y, _points(sheet, _TEXT_PT)))
    return letters


def _labels(sheet: Sheet, grid: Grid, page: int) -> list[Letters]:
    """Name every strip at both ends, and number the patches above the first one."""
    letters = []
    strips = _strips_of(grid, page)
    size = _points(sheet, _LABEL_PT)
    x = sheet.pixels(sheet.margin_mm + INSET_MM)
    for strip in strips:
        box = grid.box(strip * grid.per_strip)
        name = strip_letters(strip)
        fitting = size * min(1.0, sheet.pixels(LABEL_MM) / text_width(name, size, bold=True))
        # Capital letters are 0.73 of their size high.
        baseline = (box.top + box.bottom) / 2 + 0.365 * fitting
        letters.append(Letters(name, x, baseline, fitting, bold=True))
        letters.append(Letters(name, sheet.width - x, baseline, fitting, bold=True, align="right"))
    first = strips[0] * grid.per_strip
    above = grid.box(first).top - sheet.pixels(1.0)
    for number in range(grid.strip_length(strips[0])):
        box = grid.box(first + number)
        middle = (box.left + box.right) / 2
        letters.append(
            Letters(str(number + 1), middle, above, _points(sheet, _NUMBER_PT), align="center")
        )
    return letters


def _fields_per_row(inner_mm: float) -> int:
    return int(np.clip(inner_mm // _FIELD_MM, 1, 3))


def _foot(sheet: Sheet) -> tuple[list[_Drawn], list[Letters]]:
    """Return ruled room to write down what the chart was printed with."""
    border = sheet.margin_mm + INSET_MM
    inner = sheet.size.width - 2 * border
    columns = _fields_per_row(inner)
    width = inner / columns
    size = _points(sheet, _TEXT_PT)
    boxes, letters = [], []
    rows = -(-len(HAND_WRITTEN) // columns)
    for index, name in enumerate(HAND_WRITTEN):
        row, column = divmod(index, columns)
        x = sheet.pixels(border + column * width)
        baseline = sheet.height - sheet.pixels(border + (rows - 1 - row) * _FIELD_ROW_MM + 0.8)
        letters.append(Letters(name, x, baseline, size))
        start = x + round(text_width(name, size)) + sheet.pixels(1.5)
        end = sheet.pixels(border + (column + 1) * width - (3.0 if column < columns - 1 else 0.0))
        rule = max(1, sheet.pixels(_RULE_MM / 2))
        boxes.append(_black(Box(start, baseline, end, baseline + rule)))
    return boxes, letters


# Letters as outlines: measured, and drawn as a mask, the same for TIFF and PDF.

_OUTLINE_SIZE = 100.0


@dataclass(frozen=True)
class Letters:
    """A line of text on a page.

    Attributes
    ----------
    x, baseline
        Where it starts (or ends, or has its middle) and stands, pixels.
    size
        Size of the letters, pixels.
    align
        "left", "center" or "right".
    """

    text: str
    x: float
    baseline: float
    size: float
    align: str = "left"
    bold: bool = False


def font(bold: bool = False) -> Any:
    """Return the font: DejaVu Sans, which comes with matplotlib."""
    import matplotlib
    from matplotlib.font_manager import FontProperties

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return FontProperties(fname=f"{matplotlib.get_data_path()}/fonts/ttf/{name}")


@lru_cache(maxsize=512)
def _outline(text: str, bold: bool) -> tuple[Any, float]:
    """Return the outline of a text at size 100, and how wide it runs."""
    from matplotlib.path import Path as Outline
    from matplotlib.textpath import text_to_path

    properties = font(bold)
    properties.set_size(_OUTLINE_SIZE)
    with warnings.catch_warnings():
        # A letter that the font lacks shows as an empty box; the page is still of use.
        warnings.filterwarnings("ignore", message="Glyph")
        vertices, codes = text_to_path.get_text_path(properties, text, ismath=False)
        width, _, _ = text_to_path.get_text_width_height_descent(text, properties, ismath=False)
    if not len(vertices):
        return None, float(width)
    # Outlines come for the font's own size of 100.
    return Outline(vertices, codes), float(width)


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Say how wide a text runs, in the unit of `size`.

    Examples
    --------
    >>> round(text_width("A1", 10.0), 1)
    13.2
    """
    return _outline(text, bold)[1] * size / _OUTLINE_SIZE


def shortened(text: str, size: float, width: float, bold: bool = False) -> str:
    """Cut a text that runs wider than `width`, and say so by three dots.

    Examples
    --------
    >>> shortened("harbour", 10.0, 30.0)
    'har…'
    """
    if text_width(text, size, bold) <= width:
        return text
    lengths = range(1, len(text))
    fitting = bisect_right(lengths, width, key=lambda n: text_width(f"{text[:n]}…", size, bold))
    return f"{text[:fitting]}…"


def wrapped(parts: tuple[str, ...], joint: str, size: float, width: float) -> tuple[str, ...]:
    """Set parts of a text into lines no wider than `width`, broken at the joints.

    Examples
    --------
    >>> wrapped(("one", "two"), " · ", 10.0, 1000.0)
    ('one · two',)
    """
    lines: list[str] = []
    for part in (shortened(each, size, width) for each in parts):
        longer = f"{lines[-1]}{joint}{part}" if lines else part
        if lines and text_width(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(part)
    return tuple(lines)


def letter_mask(letters: Letters) -> tuple[Array, int, int]:
    """Draw a text.

    Returns
    -------
    Cover of each pixel from 0 to 1, shape (height, width); where its upper left corner lies,
    left and top in pixels.
    """
    from matplotlib.backends.backend_agg import RendererAgg
    from matplotlib.transforms import Affine2D

    outline, width = _outline(letters.text, letters.bold)
    if outline is None:
        return np.zeros((0, 0)), 0, 0
    scale = letters.size / _OUTLINE_SIZE
    start = letters.x - {"left": 0.0, "center": 0.5, "right": 1.0}[letters.align] * width * scale
    # A curve stays within its control points, which are found quicker than its own extent.
    (x0, y0), (x1, y1) = outline.vertices.min(axis=0), outline.vertices.max(axis=0)
    left, right = floor(start + x0 * scale) - 1, ceil(start + x1 * scale) + 1
    top = floor(letters.baseline - y1 * scale) - 1
    bottom = ceil(letters.baseline - y0 * scale) + 1

    renderer = RendererAgg(right - left, bottom - top, 72)
    pen = renderer.new_gc()
    pen.set_linewidth(0)
    # Its y runs upwards from the lower border.
    move = Affine2D().scale(scale).translate(start - left, bottom - letters.baseline)
    renderer.draw_path(pen, outline, move, rgbFace=(0.0, 0.0, 0.0, 1.0))
    cover = np.asarray(renderer.buffer_rgba())[..., 3] / 255.0
    return cover, left, top


# Drawing a page as a 16-bit RGB TIFF of untagged device values.

FULL = 65535
_ROWS = 256
"""Rows drawn at a time, so that big pages need little memory."""

Codes = NDArray[np.uint16]


def page_rows(drawing: PageDrawing) -> Iterator[Codes]:
    """Draw a page in bands of rows, from the top.

    Returns
    -------
    Arrays of shape (rows, width, 3), 16 bits; all bands but the last have 256 rows.
    """
    masks = [letter_mask(letters) for letters in drawing.letters]
    colours = np.array([rgb for _, rgb in drawing.boxes], dtype=np.float64).reshape(-1, 3)
    codes = np.round(colours * FULL).astype(np.uint16)
    for top in range(0, drawing.height, _ROWS):
        bottom = min(top + _ROWS, drawing.height)
        band = np.full((bottom - top, drawing.width, 3), FULL, dtype=np.uint16)
        for (box, _), code in zip(drawing.boxes, codes, strict=True):
            if box.top < bottom and box.bottom > top:
                rows = slice(max(box.top - top, 0), min(box.bottom, bottom) - top)
                band[rows, box.left : box.right] = code
        for cover, left, mask_top in masks:
            _ink(band, cover, left, mask_top - top)
        yield band


def _ink(band: Codes, cover: Array, left: int, top: int) -> None:
    """Lay black letters over a band."""
    first, last = max(top, 0), min(top + cover.shape[0], band.shape[0])
    start, end = max(left, 0), min(left + cover.shape[1], band.shape[1])
    if first >= last or start >= end:
        return
    part = cover[first - top : last - top, start - left : end - left, np.newaxis]
    under = band[first:last, start:end]
    band[first:last, start:end] = np.round(under * (1.0 - part))


def write_tiff(
    drawing: PageDrawing, path: Path, advance: Callable[[float], None] | None = None
) -> None:
    """Write a page as TIFF: 16-bit RGB, no profile, resolution set, LZW.

    Parameters
    ----------
    path
        Where to; `greyscale.base.files.whole_file` gives one that may fail halfway.
    advance
        Called with the share of the work done, from 0 to 1.
    """
    import imagecodecs
    import tifffile

    def strips() -> Iterator[bytes]:
        for index, band in enumerate(page_rows(drawing)):
            yield bytes(imagecodecs.lzw_encode(band.astype("<u2", copy=False).tobytes()))
            if advance is not None:
                advance(min(1.0, (index + 1) * _ROWS / drawing.height))

    tifffile.imwrite(
        path,
        strips(),
        shape=(drawing.height, drawing.width, 3),
        dtype=np.uint16,
        photometric="rgb",
        rowsperstrip=_ROWS,
        compression="lzw",
        byteorder="<",
        resolution=(drawing.dpi, drawing.dpi),
        resolutionunit="INCH",
        metadata=None,
        software="greyscale",
        maxworkers=1,
    )


# Drawing the same pages as a PDF, to look at and to keep.

_BOX = (1, 2, 2, 2, 79)
"""Matplotlib's codes of one box's corners: move, three lines, close."""


def write_pdf(pages: Sequence[PageDrawing], path: Path, title: str) -> None:
    """Write pages as PDF: device values as they are, text as text.

    The file says nothing of when it was made, so that the same chart gives the same bytes.
    """
    matplotlib = import_matplotlib()
    from matplotlib.backends.backend_pdf import PdfPages

    # As letters, not as shapes; every patch exactly where the TIFF has it.
    settings = {"pdf.fonttype": 42, "pdf.use14corefonts": False, "path.snap": False}
    about = {"Title": title, "Creator": "greyscale", "CreationDate": None}
    with matplotlib.rc_context(settings), warnings.catch_warnings():
        # A letter that the font lacks shows as an empty box; the page is still of use.
        warnings.filterwarnings("ignore", message="Glyph")
        # Made in memory: where the disk is full, a half-written stream fails in ways of its own.
        content = BytesIO()
        with PdfPages(content, metadata=about) as file:
            for page in pages:
                file.savefig(_figure(page))
    path.write_bytes(content.getvalue())


def _figure(page: PageDrawing) -> Any:
    from matplotlib.figure import Figure
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Outline
    from matplotlib.text import Text
    from matplotlib.transforms import Affine2D

    figure = Figure(figsize=(page.width / page.dpi, page.height / page.dpi))
    figure.patch.set_visible(False)
    # Pixels from the upper left corner become shares of the page from the lower left one.
    to_page = (
        Affine2D().scale(1 / page.width, -1 / page.height).translate(0, 1) + figure.transFigure
    )
    # One outline for each run of a colour: an artist for each of ten thousand boxes takes seconds.
    for rgb, run in groupby(page.boxes, key=lambda each: tuple(each[1])):
        corners = np.array(
            [
                ((box.left, box.top), (box.right, box.top), (box.right, box.bottom),
                 (box.left, box.bottom), (box.left, box.top))
                for box, _ in run
            ]
        )  # fmt: skip
        codes = np.tile(_BOX, len(corners))
        outline = PathPatch(Outline(corners.reshape(-1, 2), codes), facecolor=rgb, edgecolor="none")
        outline.set_transform(to_page)
        figure.add_artist(outline)
    for letters in page.letters:
        text = Text(letters.x, letters.baseline, letters.text, parse_math=False)
        properties = font(letters.bold)
        properties.set_size(letters.size * PT_PER_INCH / page.dpi)
        text.set(fontproperties=properties, horizontalalignment=letters.align)
        text.set(verticalalignment="baseline", transform=to_page)
        figure.add_artist(text)
    return figure
