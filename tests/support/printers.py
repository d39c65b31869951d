"""A printer to test against that somebody measured: the CMY grid of ANSI CGATS TR 006-2007."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.demo.printers import LabPrinter, cmy_grid_printer

TR006 = Path(__file__).parents[2] / "sample_measurements" / "tr006-grey.txt"
_NODES = np.array([0, 10, 20, 30, 40, 55, 70, 85, 100])


@lru_cache
def tr006_table() -> tuple[Array, Array]:
    """Give the published patches without black: C, M, Y in percent (n, 3) and CIELAB (n, 3)."""
    rows = []
    lines = TR006.read_text(encoding="utf-8").splitlines()
    for line in lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")]:
        values = [float(value) for value in line.split()]
        if values[4] == 0:
            rows.append(values[1:4] + values[-3:])
    table = np.array(rows)
    return table[:, :3], table[:, 3:]


@lru_cache
def tr006_printer(bits: int | None = None) -> LabPrinter:
    """Give a printer that answers as the published CMY grid, R = 1 - C and so on."""
    cmy, lab = tr006_table()
    count = _NODES.size
    grid = np.full((count, count, count, 3), np.nan)
    on_grid = np.isin(cmy, _NODES).all(axis=1)
    index = np.searchsorted(_NODES, cmy[on_grid])
    grid[index[:, 0], index[:, 1], index[:, 2]] = lab[on_grid]
    assert not np.isnan(grid).any(), "the published grid is complete"
    return cmy_grid_printer("printing condition of TR 006", _NODES / 100.0, grid, bits=bits)
