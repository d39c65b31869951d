"""A correction between a chart and the printer, for the print that proves it."""

from __future__ import annotations

from pathlib import Path

from greyscale.charts.chart import Through
from greyscale.colorimetry.arrays import Array
from greyscale.correction.evidence import sent_to_printer
from greyscale.correction.folder import read_correction


def chart_through(folder: Path | str) -> Through:
    """Give the correction in a folder as what a chart is sent through, near-neutral patches too.

    The values are in whole steps of the correction's bits, as those of a picture will be.

    Raises
    ------
    BadInput
        If there is no correction, or it is damaged.
    """
    correction = read_correction(folder)

    def apply(device: Array) -> Array:
        return sent_to_printer(device, correction, correction.bits)

    return Through(correction.title, apply)
