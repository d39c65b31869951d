"""The report and figures of a verification, as files in a folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from greyscale.base.json_output import json_text
from greyscale.correction.verify import Verification
from greyscale.reporting.next_step import NextStep
from greyscale.reporting.report_folder import write_report
from greyscale.reporting.verification_json import verification_data
from greyscale.reporting.verification_page import verification_page


def write_verification_report(
    verification: Verification,
    folder: Path,
    inputs: Sequence[Path | str],
    *,
    command: str = "",
    checks: str = "",
    pdf: bool = False,
    step: NextStep | None = None,
) -> Path:
    """Write `report.html`, `verification.json` and the figures as PNG and SVG; a PDF if asked for.

    Parameters
    ----------
    folder
        Made if it is missing; other files in it are left alone.
    inputs
        Files that must not be overwritten: the reading, and the correction's own.
    step
        What to do next.

    Returns
    -------
    The page's path.

    Raises
    ------
    BadInput
        If a file cannot be written, or would overwrite an input. Each file is written whole or
        not at all.
    """
    data = json_text(verification_data(verification))
    report = replace(verification_page(verification, command), next_step=step)
    report = report.with_fact("Checks", checks)
    return write_report(folder, report, inputs, {"verification.json": data}, pdf=pdf)
