"""The report and figures of a trend, as files in a folder."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from greyscale.base.json_output import json_text
from greyscale.reporting.report_folder import write_report
from greyscale.reporting.trend_json import trend_data
from greyscale.reporting.trend_page import trend_page
from greyscale.reporting.trend_subject import ShownTrend


def write_trend_report(
    shown: ShownTrend,
    folder: Path | str,
    inputs: Sequence[Path | str],
    *,
    command: str = "",
    pdf: bool = False,
) -> Path:
    """Write `report.html`, `trend.json` and the figures as PNG and SVG; a PDF if asked for.

    Parameters
    ----------
    folder
        Made if it is missing; other files in it are left alone.
    inputs
        Files that must not be overwritten: the log.

    Returns
    -------
    The page's path.

    Raises
    ------
    BadInput
        If a file cannot be written, or would overwrite an input. Each file is written whole or
        not at all.
    """
    data = json_text(trend_data(shown))
    return write_report(folder, trend_page(shown, command), inputs, {"trend.json": data}, pdf=pdf)
