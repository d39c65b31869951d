"""A folder with everything on a print's drying: page, figure, JSON."""

from __future__ import annotations

from pathlib import Path

from greyscale.analysis.drying import Drying
from greyscale.base.json_output import json_text
from greyscale.reporting.drying_json import drying_data
from greyscale.reporting.drying_page import drying_page
from greyscale.reporting.report_folder import write_report


def write_drying_report(
    drying: Drying,
    folder: Path | str,
    *,
    command: str = "",
    checks: str = "",
    pdf: bool = False,
) -> Path:
    """Write `report.html`, `drying.json`, and the figure as PNG and SVG; a PDF if asked for.

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
        drying_page(drying, command).with_fact("Checks", checks),
        list(drying.series.sources),
        {"drying.json": json_text(drying_data(drying))},
        pdf=pdf,
    )
