"""A report as PDF: A4, for print and for the record; figures as lines, text as text."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from greyscale.base.errors import BadInput
from greyscale.reporting.page import Report

if TYPE_CHECKING:
    from greyscale.reporting.pdf.sheet import Sheet

_NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)
_END = 40.0
"""Room, mm, for the headings and the command at a report's end."""

_WEDGE = (
    "#1b1b1b", "#303030", "#474747", "#5e5e5e", "#777777", "#919191", "#ababab", "#c6c6c6",
    "#dcdcdc", "#eeeeee", "#fafafa",
)  # fmt: skip


def pdf(report: Report) -> bytes:
    """Return a report's PDF, in the order and the look of its web page.

    No browser and no program besides Python is needed. The file bears no date: the same report
    gives the same bytes.

    Raises
    ------
    BadInput
        If what writes PDF is not installed.
    """
    need_writer()
    with _quiet():
        return _document(report)


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
        raise BadInput(
            "writing PDF needs the package fpdf2; install it by: pip install fpdf2",
            "--pdf",
        ) from error


def _document(report: Report) -> bytes:
    from greyscale.reporting.pdf.blocks import draw_under_heading
    from greyscale.reporting.pdf.sheet import Sheet

    sheet = Sheet(report.title)
    _describe(sheet, report)
    sheet.add_page()
    _head(sheet, report)
    for section in report.sections:
        draw_under_heading(sheet, section.heading, section.blocks)
    _close(sheet, report)
    # fpdf2 knows no file without a date. Blanks in its place keep every offset in the file.
    date = f"/CreationDate (D:{_NO_DATE:%Y%m%d%H%M%S}Z)".encode()
    return bytes(sheet.output()).replace(date, b" " * len(date))


def _describe(sheet: Sheet, report: Report) -> None:
    """Say in the file itself what it is, for readers' shelves and for screen readers."""
    from fpdf import ViewerPreferences

    from greyscale import __version__
    from greyscale.reporting.pdf.sheet import plain

    sheet.set_title(plain(f"{report.title}: {report.kind}"))
    sheet.set_subject(report.kind)
    sheet.set_lang("en-GB")
    sheet.set_creator(f"greyscale {__version__}")
    sheet.set_producer("fpdf2")
    sheet.set_creation_date(_NO_DATE)
    sheet.viewer_preferences = ViewerPreferences(display_doc_title=True)


def _head(sheet: Sheet, report: Report) -> None:
    from greyscale.reporting.pdf.sheet import AFTER_LEAD, COMMAND, KIND, LEAD, TITLE

    width = sheet.epw / len(_WEDGE)
    with sheet.local_context():
        for place, grey in enumerate(_WEDGE):
            sheet.set_fill_color(grey)
            sheet.rect(sheet.l_margin + place * width, sheet.t_margin, width, 3, style="F")
    sheet.set_y(sheet.t_margin + 8)
    sheet.write_text(report.kind, KIND)
    sheet.space(0.8)
    sheet.write_text(report.title, TITLE)
    sheet.space(3)
    for place, paragraph in enumerate(report.lead):
        sheet.write_text(paragraph, AFTER_LEAD if place else LEAD)
        sheet.space(2.2)
        if place == 0 and (step := report.next_step) is not None:
            sheet.write_text(f"{step.words}{':' if step.commands else '.'}", AFTER_LEAD)
            for command in step.commands:
                sheet.write_text(command, COMMAND)
            sheet.space(2.2)


def _close(sheet: Sheet, report: Report) -> None:
    """Say what was measured and how, what not to take from it, and what made it."""
    from greyscale import __version__
    from greyscale.reporting.page import Facts
    from greyscale.reporting.pdf.blocks import draw_under_heading, part
    from greyscale.reporting.pdf.sheet import BODY, COMMAND, KIND, SIDE, TALLEST

    if report.facts:
        draw_under_heading(sheet, "What was measured, and how", (Facts(report.facts),))
    if report.grounds:
        draw_under_heading(sheet, "What the figures rest on", (Facts(report.grounds),))
    # Cautions and what made it stay on one sheet: neither should be lost from the other.
    heights = [sheet.height_of(text, BODY, sheet.epw - 4) + 1.2 for text in report.cautions]
    sheet.need(min(sum(heights) + _END, TALLEST))
    if report.cautions:
        draw_under_heading(sheet, "Please note", ())
        for caution in report.cautions:
            sheet.need(sheet.height_of(caution, BODY, sheet.epw - 4))
            top = sheet.y
            sheet.write_text("•", BODY)
            sheet.set_y(top)
            sheet.write_text(caution, BODY, x=SIDE + 4, width=sheet.epw - 4)
            sheet.space(1.2)
    part(sheet)
    by = " by" if report.command else ""
    sheet.write_text(f"Made with greyscale {__version__}{by}", KIND)
    if report.command:
        sheet.space(1)
        sheet.write_text(report.command, COMMAND)


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep quiet about names in scripts the font lacks: they show as empty boxes."""
    loggers = [logging.getLogger(name) for name in ("fpdf", "fontTools")]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.ERROR)
    try:
        yield
    finally:
        for logger, level in zip(loggers, levels, strict=True):
            logger.setLevel(level)
