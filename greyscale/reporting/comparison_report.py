"""A folder with everything on a comparison: page, figures, JSON."""

from __future__ import annotations

from pathlib import Path

from greyscale.analysis.comparison import Comparison
from greyscale.json_output import json_text
from greyscale.reporting.comparison_json import comparison_data
from greyscale.reporting.comparison_page import comparison_page
from greyscale.reporting.report_folder import write_report


def write(comparison: Comparison, folder: Path | str, *, command: str = "") -> Path:
    """Write `report.html`, `comparison.json`, and PNG and SVG figures.

    Returns
    -------
    The page's path.

    Raises
    ------
    BadInput
        If a file cannot be written, or would overwrite a reading. Each file is written whole or
        not at all.
    """
    page, sections = comparison_page(comparison, command)
    return write_report(
        folder,
        {"report.html": page, "comparison.json": json_text(comparison_data(comparison))},
        sections,
        inputs=[paper.source for paper in comparison.papers],
    )
