"""Drawing the same pages as a PDF, to look at and to keep."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np

from greyscale.charts.lettering import font
from greyscale.charts.marks import PageDrawing

_PT_PER_INCH = 72.0
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
        properties.set_size(letters.size * _PT_PER_INCH / page.dpi)
        text.set(fontproperties=properties, horizontalalignment=letters.align)
        text.set(verticalalignment="baseline", transform=to_page)
        figure.add_artist(text)
    return figure
