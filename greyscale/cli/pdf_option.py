"""The option `--pdf`, the same for every command that writes a report."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

PdfOption = Annotated[bool, typer.Option("--pdf", help="Write the report as PDF as well.")]


def check_pdf(pdf: bool, folder: Path | None) -> None:
    """Refuse `--pdf` before the work is done, if it cannot be followed after it.

    Raises
    ------
    BadInput
        If there is no folder to write to, or no package to write with.
    """
    if not pdf:
        return
    if folder is None:
        from greyscale.base.errors import BadInput

        raise BadInput("a PDF needs a folder to stand in; add -o DIR", "--pdf")
    from greyscale.reporting.pdf.document import need_writer

    need_writer()
