"""A folder with everything on a comparison: page, figures, JSON."""

from __future__ import annotations

from pathlib import Path

from greyscale.analysis.comparison import Comparison
from greyscale.base.json_output import json_text
from greyscale.reporting.comparison_json import comparison_data
from greyscale.reporting.comparison_page import comparison_page
from greyscale.reporting.report_folder import write_report


def write_comparison_report(
    comparison: Comparison,
    folder: Path | str,
    *,
    command: str = "",
    checks: str = "",
    pdf: bool = False,
) -> Path:
    """Write `report.html`, `comparison.json`, and PNG and SVG figures; a PDF if asked for.

    Returns
    -------
    The page's path.

    Raises
    ------
    BadInput
        If a file cannot be written, or would overwrite a reading. Each file is written whole or
        not at all.
    """
    return write_report(
        folder,
        comparison_page(comparison, command).with_fact("Checks", checks),
        [paper.source for paper in comparison.papers],
        {"comparison.json": json_text(comparison_data(comparison))},
        pdf=pdf,
    )
