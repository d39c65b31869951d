"""The ramp as a table for a spreadsheet: one line a patch, by falling level."""

from __future__ import annotations

import csv
import io

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.colorimetry.arrays import Array

DECIMALS = 4


def patches_csv(analysis: Analysis) -> str:
    """Give CSV text: ids, levels, what was measured, the aim, the differences, then each light.

    Columns of a light are named by it, as `A a`, `A metamerism index`. Numbers have four
    decimals and a decimal point; lines end in LF.
    """
    columns = _columns(analysis)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["id", *columns])
    # Adding zero takes the sign off a rounded -0.
    numbers = np.column_stack(list(columns.values())).round(DECIMALS) + 0.0
    for name, row in zip(analysis.patches.ids, numbers, strict=True):
        writer.writerow([cell(name), *(f"{value:.{DECIMALS}f}" for value in row)])
    return text.getvalue()


def cell(text: str) -> str:
    """Return a text as a spreadsheet takes it for text: what begins like a formula is quoted.

    Examples
    --------
    >>> cell("A1"), cell("=1+1"), cell("-B2")
    ('A1', "'=1+1", "'-B2")
    """
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def _columns(analysis: Analysis) -> dict[str, Array]:
    patches = analysis.patches
    columns = {
        "level": patches.level,
        "L": patches.lab[:, 0],
        "a": patches.lab[:, 1],
        "b": patches.lab[:, 2],
        "density": patches.density,
        "aim_L": patches.aim_lab[:, 0],
        "aim_a": patches.aim_lab[:, 1],
        "aim_b": patches.aim_lab[:, 2],
        "delta_L": patches.delta_L,
        "delta_a": patches.delta_ab[:, 0],
        "delta_b": patches.delta_ab[:, 1],
        "delta_Ch": patches.delta_Ch,
        "delta_E00": patches.delta_E00,
        "measurements": patches.counts,
    }
    for light in analysis.lights or ():
        columns |= {
            f"{light.name} L": light.lab[:, 0],
            f"{light.name} a": light.lab[:, 1],
            f"{light.name} b": light.lab[:, 2],
            f"{light.name} metamerism index": light.metamerism_index,
            f"{light.name} colour inconstancy": light.colour_inconstancy,
        }
    return columns
