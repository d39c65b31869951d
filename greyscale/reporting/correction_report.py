"""The report and figures of a correction, as files in its folder."""

from __future__ import annotations

from pathlib import Path

from greyscale.applying.preview import Preview
from greyscale.charts.picture_tones import PictureTones
from greyscale.correction.folder import Luts
from greyscale.correction.record import Correction
from greyscale.reporting.correction_page import correction_page
from greyscale.reporting.report_folder import write_report


def write_correction_report(
    correction: Correction,
    luts: Luts,
    folder: Path,
    *,
    command: str = "",
    checks: str = "",
    pdf: bool = False,
    tones: PictureTones | None = None,
    preview: Preview | None = None,
) -> None:
    """Write the report, and its figures as PNG and SVG, into a correction's folder.

    Parameters
    ----------
    tones, preview
        Of the picture that the correction was sharpened for, if there is one.

    Raises
    ------
    BadInput
        If a file cannot be written.
    """
    write_report(
        folder,
        correction_page(correction, luts, command, tones, preview).with_fact("Checks", checks),
        (),
        pdf=pdf,
    )
