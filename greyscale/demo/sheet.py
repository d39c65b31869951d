"""What the simulated printer is given: the values in a chart's TIFF, patch by patch."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from greyscale.charts.chart import chart_files
from greyscale.charts.page import grid_from_fields
from greyscale.colorimetry.arrays import Array
from greyscale.readings.layout import Layout

_FULL = 65535.0


def values_on_sheet(stem: Path, layout: Layout) -> Array:
    """Give the device values in the middle of each patch of a chart's pages.

    Parameters
    ----------
    stem
        The chart's path without an ending.
    layout
        The chart's layout, which tells where its patches are.

    Returns
    -------
    Array of shape (n, 3), 0 to 1.
    """
    import tifffile

    grid = grid_from_fields(layout.fields, len(layout))
    paths = chart_files(stem, grid.pages)[: grid.pages]
    pages = [np.asarray(tifffile.imread(path)) for path in paths]
    boxes = [(grid.page_of(index), grid.box(index)) for index in range(len(layout))]
    codes = [
        pages[page][(box.top + box.bottom) // 2, (box.left + box.right) // 2] for page, box in boxes
    ]
    return np.asarray(codes, dtype=np.float64) / _FULL
