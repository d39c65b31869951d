"""A folder with everything on an analysis: page, figures, JSON, table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from greyscale.analysis.analyse import Analysis
from greyscale.base.json_output import json_text
from greyscale.reporting.analysis_page import analysis_page
from greyscale.reporting.json_output import analyses_data
from greyscale.reporting.next_step import NextStep, after_analysis
from greyscale.reporting.patches_csv import patches_csv
from greyscale.reporting.report_folder import write_report


def write_analysis_report(
    analyses: Sequence[Analysis],
    folder: Path | str,
    *,
    command: str = "",
    checks: str = "",
    pdf: bool = False,
    step: NextStep | None = None,
) -> Path:
    """Write `report.html`, `analysis.json`, `patches.csv`, and PNG and SVG figures.

    With several readings, the names of figures and tables begin with each reading's own.

    Parameters
    ----------
    analyses
        At least one.
    folder
        Made if it is missing; other files in it are left alone.
    command
        The command that asked for it, to be printed in the report.
    checks
        What came of the checks of the readings, in words.
    pdf
        Write `report.pdf` as well.
    step
        What to do next; by default what follows from the analyses alone.

    Returns
    -------
    The page's path.

    Raises
    ------
    BadInput
        If a file cannot be written, or would overwrite a reading. Each file is written whole or
        not at all.
    """
    stems = _stems(analyses)
    tables = {
        f"{stem}patches.csv": patches_csv(one) for one, stem in zip(analyses, stems, strict=True)
    }
    report = replace(
        analysis_page(analyses, stems, command), next_step=step or after_analysis(analyses)
    )
    return write_report(
        folder,
        report.with_fact("Checks", checks),
        [one.reading.source for one in analyses],
        {"analysis.json": json_text(analyses_data(analyses)), **tables},
        pdf=pdf,
    )


def _stems(analyses: Sequence[Analysis]) -> tuple[str, ...]:
    """Give what file names begin with: nothing for one reading, else its name, each unlike."""
    if len(analyses) == 1:
        return ("",)
    stems: list[str] = []
    for one in analyses:
        kept = "".join(c if c.isalnum() else " " for c in one.reading.name.lower())
        stem = "-".join(kept.split())[:40] or "reading"
        number = 2
        unlike = stem
        while f"{unlike}-" in stems:
            unlike = f"{stem}-{number}"
            number += 1
        stems.append(f"{unlike}-")
    return tuple(stems)
