"""The options `--pdf` and `--open`, the same for every command that writes a report."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

PdfOption = Annotated[bool, typer.Option("--pdf", help="Write the report as PDF as well.")]

OpenOption = Annotated[
    bool, typer.Option("--open", help="Open the report's page in the browser when it is written.")
]


def check_report(folder: Path | None, pdf: bool, shown: bool) -> None:
    """Refuse `--pdf` and `--open` before the work is done, if they cannot be followed after it.

    Raises
    ------
    BadInput
        If there is no folder to write to, or no package to write a PDF with.
    """
    if folder is None and (pdf or shown):
        from greyscale.base.errors import BadInput

        what, option = ("a PDF", "--pdf") if pdf else ("a page to open", "--open")
        raise BadInput(f"{what} needs a folder; add -o DIR", option)
    if pdf:
        from greyscale.reporting.pdf.document import need_writer

        need_writer()


def open_page(page: Path) -> None:
    """Open a page in the person's browser; say so where there is none."""
    import webbrowser

    if not webbrowser.open(page.resolve().as_uri()):
        typer.echo(f"greyscale: no browser was found; open {page} yourself", err=True)
