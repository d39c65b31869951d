"""Drawing a page as a 16-bit RGB TIFF of untagged device values."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator, Sequence
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from greyscale.charts.marks import PageDrawing, font, letter_mask
from greyscale.charts.page import PT_PER_INCH
from greyscale.colorimetry.arrays import Array

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
    drawing
        The page.
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
    import matplotlib
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
