"""Letters as outlines: measured, and drawn as a mask, the same for TIFF and PDF."""

from __future__ import annotations

import warnings
from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, floor
from typing import Any

import numpy as np

from greyscale.colorimetry.arrays import Array

_OUTLINE_SIZE = 100.0


@dataclass(frozen=True)
class Letters:
    """A line of text on a page.

    Attributes
    ----------
    text
        What it says.
    x, baseline
        Where it starts (or ends, or has its middle) and stands, pixels.
    size
        Size of the letters, pixels.
    align
        "left", "center" or "right".
    bold
        Whether it is bold.
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
