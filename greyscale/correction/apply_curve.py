"""A correction between a chart and the printer, for the print that proves it."""

from __future__ import annotations

from pathlib import Path

from greyscale.charts.chart import Through
from greyscale.correction.folder import read_correction


def chart_through(folder: Path | str) -> Through:
    """Give the correction in a folder as what a chart is sent through: its curve, near-neutral
    patches too.

    Raises
    ------
    BadInput
        If there is no correction, or it is damaged.
    """
    correction = read_correction(folder)
    name = (
        correction.name if correction.round == 1 else f"{correction.name}, round {correction.round}"
    )
    return Through(name, correction.curve.apply)
