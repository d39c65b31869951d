"""How a report becomes files in a folder: page, PDF, tables, each picture as PNG and SVG."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.files import keep_inputs, write_whole
from greyscale.base.folders import whole_folder
from greyscale.reporting.html import html
from greyscale.reporting.page import Report, pictures

PAGE = "report.html"
"""The report's name in its folder."""

PDF = "report.pdf"
"""The same as a PDF, if it is asked for."""

FIGURES = "figures"
"""The folder within that holds the pictures."""


def write_report(
    folder: Path | str, report: Report, *, inputs: Sequence[Path | str] = (), pdf: bool = False
) -> Path:
    """Write a report's files: all of them or, where that cannot be, none.

    Parameters
    ----------
    folder
        Made if it is missing; other files in it are left alone.
    report
        Becomes `PAGE`; its pictures are saved under `FIGURES`, its texts beside it.
    inputs
        Files that must not be overwritten, beside the report's own inputs.
    pdf
        Write `PDF` as well.

    Returns
    -------
    The page's path.

    Raises
    ------
    BadInput
        If a file cannot be written, or would overwrite an input, or what writes PDF is not
        installed.
    """
    target = Path(folder)
    contents: dict[str, str | bytes] = {}
    if pdf:
        need_writer()
        from greyscale.reporting.pdf import pdf as pdf_of

        contents[PDF] = pdf_of(report)
    for picture in pictures(report.sections):
        contents[f"{FIGURES}/{picture.name}.png"] = picture.drawn.png
        contents[f"{FIGURES}/{picture.name}.svg"] = picture.drawn.svg
    contents |= report.texts()
    contents[PAGE] = html(report)
    keep_inputs((*report.inputs, *inputs), [target / name for name in contents])
    with whole_folder(target) as fresh:
        for name, content in contents.items():
            write_whole(fresh / name, content)
    return target / PAGE


def need_writer() -> None:
    """Refuse to go on if what writes PDF is not installed.

    Raises
    ------
    BadInput
        Saying what to install.
    """
    try:
        import fpdf  # noqa: F401
    except ModuleNotFoundError as error:
        reason = "writing PDF needs the package fpdf2; install it by: pip install fpdf2"
        raise BadInput(reason, "--pdf") from error
