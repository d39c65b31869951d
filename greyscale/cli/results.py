"""Where a command's result goes: to the terminal, as JSON, into a folder as a report."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import as_typed

if TYPE_CHECKING:
    from greyscale.reporting.page import Report


def command_line() -> str:
    """Return the running command as it can be pasted into a shell of this system."""
    return as_typed(*sys.argv[1:])


@dataclass(frozen=True)
class Results:
    """Where results are to go, as the options have it; refused if they cannot.

    Attributes
    ----------
    json_file
        Of `--json`; "-" is standard output, and nothing else is said there.
    folder, pdf, shown
        Of `-o`, `--pdf` and `--open`.

    Raises
    ------
    BadInput
        If there is no folder to write to, or no package to write a PDF with.
    """

    json_file: str | None = None
    folder: Path | None = None
    pdf: bool = False
    shown: bool = False

    def __post_init__(self) -> None:
        if self.folder is None and (self.pdf or self.shown):
            what, option = ("a PDF", "--pdf") if self.pdf else ("a page to open", "--open")
            raise BadInput(f"{what} needs a folder; add -o DIR", option)
        if self.pdf:
            from greyscale.reporting.html import need_writer

            need_writer()

    @property
    def as_json(self) -> bool:
        """Whether JSON alone goes to standard output."""
        return self.json_file == "-"

    def give(
        self,
        data: Callable[[], dict[str, Any]],
        report: Callable[[], Report],
        every: bool = False,
        inputs: Sequence[Path] = (),
    ) -> None:
        """Write and show a result in the ways that are asked for, each made only then.

        Parameters
        ----------
        data, report
            The result as plain data, and as a report.
        every
            Whether the terminal shows all of the report.
        inputs
            What the report was made from, beside what it names itself.
        """
        made, page = cache(report), None
        if self.folder is not None:
            from greyscale.cli.voice import working
            from greyscale.reporting.html import write_report

            with working("Drawing the report"):
                page = write_report(self.folder, made(), inputs=inputs, pdf=self.pdf)
        if self.json_file is not None:
            from greyscale.reporting.json_output import write_json

            write_json(data(), self.json_file)
        if not self.as_json:
            from greyscale.reporting.terminal import show_report, terminal

            show_report(made(), terminal(), every, page)
        if page is not None and self.shown:
            open_page(page)


def open_page(page: Path) -> None:
    """Open a page in the person's browser; say so where there is none."""
    import webbrowser

    if not webbrowser.open(page.resolve().as_uri()):
        typer.echo(f"greyscale: no browser was found; open {page} yourself", err=True)
