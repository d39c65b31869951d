"""Drawing a page as a 16-bit RGB TIFF of untagged device values."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from greyscale.charts.lettering import letter_mask
from greyscale.charts.marks import PageDrawing
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
    for top in range(0, drawing.height, _ROWS):
        bottom = min(top + _ROWS, drawing.height)
        band = np.full((bottom - top, drawing.width, 3), FULL, dtype=np.uint16)
        for box, rgb in drawing.boxes:
            if box.top < bottom and box.bottom > top:
                rows = slice(max(box.top - top, 0), min(box.bottom, bottom) - top)
                band[rows, box.left : box.right] = np.round(np.multiply(rgb, FULL))
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
