"""The report and figures of a correction, as files in its folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from greyscale.applying.preview import Preview
from greyscale.charts.picture_tones import PictureTones
from greyscale.correction.folder import Luts
from greyscale.correction.record import Correction
from greyscale.reporting.correction_page import correction_page
from greyscale.reporting.next_step import NextStep
from greyscale.reporting.report_folder import write_report


def write_correction_report(
    correction: Correction,
    luts: Luts,
    folder: Path,
    *,
    command: str = "",
    checks: str = "",
    pdf: bool = False,
    step: NextStep | None = None,
    tones: PictureTones | None = None,
    preview: Preview | None = None,
) -> None:
    """Write the report, and its figures as PNG and SVG, into a correction's folder.

    Parameters
    ----------
    step
        What to do next.
    tones, preview
        Of the picture that the correction was sharpened for, if there is one.

    Raises
    ------
    BadInput
        If a file cannot be written.
    """
    report = replace(correction_page(correction, luts, command, tones, preview), next_step=step)
    write_report(
        folder,
        report.with_fact("Checks", checks),
        (),
        pdf=pdf,
    )
