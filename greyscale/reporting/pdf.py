"""A report as PDF: A4, for print and for the record; figures as lines, text as text.

Each block is kept together with what explains it. Only who writes a PDF imports this: it needs
fpdf2 (`html.need_writer`).
"""

from __future__ import annotations

import logging
import re
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import singledispatch
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
from fpdf import FPDF, ViewerPreferences
from fpdf.enums import MethodReturnValue, TableBordersLayout, WrapMode
from fpdf.fonts import FontFace

from greyscale import __version__
from greyscale.reporting import page
from greyscale.reporting.style import LIGHT, Swatch

# The sheet: its measures, its letters, its foot.

MM_PER_POINT = 25.4 / 72
SIDE, TOP, BOTTOM = 15.0, 16.0, 18.0
"""Margins, mm."""

TALLEST = 297.0 - TOP - BOTTOM
"""Room from the upper margin to the lower one, mm."""

_PARTING = 7.0


@dataclass(frozen=True)
class Type:
    """How one kind of text is set.

    Attributes
    ----------
    size
        Points.
    colour
        As `#rrggbb`.
    leading
        Distance of lines, in sizes.
    """

    size: float
    colour: str = LIGHT.ink
    bold: bool = False
    mono: bool = False
    leading: float = 1.45

    @property
    def line(self) -> float:
        """Height of a line, mm."""
        return self.size * self.leading * MM_PER_POINT


KIND = Type(9.0, LIGHT.muted)
TITLE = Type(19.0, bold=True, leading=1.25)
LEAD = Type(12.0)
AFTER_LEAD = Type(9.5, LIGHT.muted)
HEADING = Type(13.0, bold=True, leading=1.25)
SUBHEADING = Type(10.5, bold=True, leading=1.25)
BODY = Type(9.5)
NAME = Type(9.5, LIGHT.muted)
CAPTION = Type(8.5, LIGHT.muted)
VALUE = Type(15.0, leading=1.3)
NOTE = Type(8.0)
SMALL_NAME = Type(8.0, LIGHT.muted)
CELL = Type(7.8, leading=1.3)
CELL_HEAD = Type(7.8, bold=True, leading=1.3)
COMMAND = Type(8.0, mono=True)
FOOT = Type(7.5, LIGHT.muted)


class Sheet(FPDF):
    """A4 sheets with DejaVu letters, which have all signs of the field.

    Parameters
    ----------
    title
        Stands at the foot of each sheet.
    """

    def __init__(self, title: str) -> None:
        super().__init__(orientation="portrait", unit="mm", format="A4")
        self._foot = plain(title)
        self.set_margins(SIDE, TOP, SIDE)
        self.set_auto_page_break(True, BOTTOM)
        self.c_margin = 0
        # Fonts come with Matplotlib.
        fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
        for family, style, file in (
            ("text", "", "DejaVuSans.ttf"),
            ("text", "B", "DejaVuSans-Bold.ttf"),
            ("mono", "", "DejaVuSansMono.ttf"),
        ):
            self.add_font(family, style, fonts / file)
        self.alias_nb_pages("{sheets}")

    def footer(self) -> None:
        """Name the report and count the sheets."""
        self.set_y(-11)
        self.use(FOOT)
        title = self._foot if len(self._foot) <= 100 else self._foot[:99].rstrip() + "…"
        self.cell(self.epw - 13, 4, title)
        self.cell(13, 4, f"{self.page_no()} of {{sheets}}")

    def use(self, type_: Type) -> None:
        """Set text from now on in a type."""
        self.set_font("mono" if type_.mono else "text", "B" if type_.bold else "", type_.size)
        self.set_text_color(type_.colour)

    def room(self) -> float:
        """Millimetres left on this sheet."""
        return float(self.page_break_trigger - self.y)

    def begins(self) -> bool:
        """Say whether nothing stands on this sheet yet."""
        return bool(self.y <= TOP + 1)

    def need(self, height: float) -> None:
        """Go to a new sheet if this one has no room for so many millimetres."""
        if height > self.room() and not self.begins():
            self.add_page()

    def space(self, height: float) -> None:
        """Leave room above what follows, but not at the head of a sheet."""
        if not self.begins():
            self.set_y(self.y + height)

    def height_of(self, text: str, type_: Type, width: float) -> float:
        """Return how high a paragraph will be, mm."""
        self.use(type_)
        found = self.multi_cell(
            width, type_.line, plain(text), align="L", dry_run=True,
            output=MethodReturnValue.HEIGHT,
        )  # fmt: skip
        assert isinstance(found, float | int)
        return float(found)

    def write_text(
        self, text: str, type_: Type, *, x: float = SIDE, width: float | None = None
    ) -> None:
        """Set a paragraph at the place reached, and go on below it."""
        self.use(type_)
        self.set_x(x)
        self.multi_cell(
            self.epw if width is None else width, type_.line, plain(text), align="L",
            new_x="LMARGIN", new_y="NEXT",
        )  # fmt: skip

    def part(self) -> None:
        """Part what follows from what went before by a line, unless a sheet begins."""
        if not self.begins():
            self.space(0.4 * _PARTING)
            self.set_draw_color(LIGHT.rule)
            self.set_line_width(0.2)
            self.line(SIDE, self.y, SIDE + self.epw, self.y)
            self.space(0.6 * _PARTING)


def plain(text: str) -> str:
    """Make text fit to be set: no control characters, which names from files may hold."""
    return "".join(c if unicodedata.category(c) not in ("Cc", "Cs") else " " for c in text)


# The document, in the order and the look of the web page.

_NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)
_END = 40.0
"""Room, mm, for the headings and the command at a report's end."""

_WEDGE = (
    "#1b1b1b", "#303030", "#474747", "#5e5e5e", "#777777", "#919191", "#ababab", "#c6c6c6",
    "#dcdcdc", "#eeeeee", "#fafafa",
)  # fmt: skip


def pdf(report: page.Report) -> bytes:
    """Return a report's PDF, in the order and the look of its web page.

    No browser and no program besides Python is needed. The file bears no date: the same report
    gives the same bytes.
    """
    with _quiet():
        sheet = Sheet(report.title)
        # In the file itself, for readers' shelves and for screen readers.
        sheet.set_title(plain(f"{report.title}: {report.kind}"))
        sheet.set_subject(report.kind)
        sheet.set_lang("en-GB")
        sheet.set_creator(f"greyscale {__version__}")
        sheet.set_producer("fpdf2")
        sheet.set_creation_date(_NO_DATE)
        sheet.viewer_preferences = ViewerPreferences(display_doc_title=True)
        sheet.add_page()
        _head(sheet, report)
        for section in report.drawn:
            _draw_under_heading(sheet, section.heading, section.blocks)
        _close(sheet, report)
        # fpdf2 knows no file without a date. Blanks in its place keep every offset in the file.
        date = f"/CreationDate (D:{_NO_DATE:%Y%m%d%H%M%S}Z)".encode()
        return bytes(sheet.output()).replace(date, b" " * len(date))


def _head(sheet: Sheet, report: page.Report) -> None:
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


def _close(sheet: Sheet, report: page.Report) -> None:
    """Say what was measured and how, what not to take from it, and what made it."""
    if report.facts:
        _draw_under_heading(sheet, "What was measured, and how", (page.Facts(report.facts),))
    if report.grounds:
        _draw_under_heading(sheet, "What the figures rest on", (page.Facts(report.grounds),))
    # Cautions and what made it stay on one sheet: neither should be lost from the other.
    heights = [sheet.height_of(text, BODY, sheet.epw - 4) + 1.2 for text in report.cautions]
    sheet.need(min(sum(heights) + _END, TALLEST))
    if report.cautions:
        _draw_under_heading(sheet, "Please note", ())
        for caution in report.cautions:
            sheet.need(sheet.height_of(caution, BODY, sheet.epw - 4))
            top = sheet.y
            sheet.write_text("•", BODY)
            sheet.set_y(top)
            sheet.write_text(caution, BODY, x=SIDE + 4, width=sheet.epw - 4)
            sheet.space(1.2)
    sheet.part()
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


# Each kind of block.

_PAD = 1.3
# Columns stand no farther apart than this; a wide table of short numbers is hard to read along.
_MOST_SPACE = 5.0
_SWATCH = 12.0
# A column of words may be narrower than its longest cell, but not than this.
_LEAST_WORDS = 22.0
_ROWS_TOGETHER = 3

_METADATA = re.compile(rb"<metadata>.*?</metadata>", re.DOTALL)

_IMAGE = re.compile(
    rb'(<image [^>]*?)width="([\d.]+)" height="([\d.]+)" '
    rb'transform="matrix\(([\d.]+) 0 0 ([\d.]+) (-?[\d.]+) (-?[\d.]+)\)"'
)


def _placed(image: re.Match[bytes]) -> bytes:
    """Return an image that says its place and size itself: fpdf2 heeds no transform of one."""
    before, *numbers = image.groups()
    width, height, across, down, x, y = map(float, numbers)
    own = f'x="{x}" y="{y}" width="{across * width}" height="{down * height}"'
    return before + own.encode("ascii")


_NAME_WIDTH = 42.0
_LEAST_SCALE = 0.8
"""Figures are drawn that much smaller if they then need no new sheet."""
_HIGH = 140.0
"""Beyond this height, mm, they are drawn smaller anyway, so that something shares their sheet."""
_BOX_PAD = 2.2
_STRIP_HEIGHT = 9.0


@singledispatch
def _draw(block: object, sheet: Sheet) -> None:
    """Draw a block at the place reached on the sheet, and go on below it."""
    raise TypeError(f"no way to print {type(block).__name__}")


def _least_height(block: page.Block, sheet: Sheet) -> float:
    """Return the room, mm, that a block needs so that its heading may stand above it."""
    match block:
        case page.Picture():
            caption = _caption_height(block, sheet)
            return _LEAST_SCALE * _full_size(block, sheet, caption)[1] + 1.5 + caption
        case page.Strip():
            return 2 * _STRIP_HEIGHT + 2 * BODY.line
        case page.Table():
            rows = min(len(block.rows), _ROWS_TOGETHER)
            caption = CAPTION.line if block.caption else 0.0
            return caption + (rows + 1) * (CELL.line + 2 * _PAD) + 4
        case page.Numbers():
            inner = sheet.epw / max(len(block.numbers), 1) - 2 * _BOX_PAD
            return 2 * _BOX_PAD + max(
                sum(sheet.height_of(text, type_, inner) for text, type_ in _parts(number))
                for number in block.numbers
            )
        case page.Switch():
            return SUBHEADING.line + _least_height(block.cases[0][1][0], sheet)
    return 3 * BODY.line


@_draw.register
def _(block: page.Prose, sheet: Sheet) -> None:
    sheet.need(min(2 * BODY.line, sheet.height_of(block.text, BODY, sheet.epw)))
    sheet.space(1)
    sheet.write_text(block.text, BODY)
    sheet.space(2.5)


@_draw.register
def _(block: page.Points, sheet: Sheet) -> None:
    for number, item in enumerate(block.items, start=1):
        if isinstance(item, str):
            _draw(page.Prose(f"• {item}"), sheet)
        else:
            _draw(page.Prose("\n".join((f"{number}. {item.words}", *item.commands))), sheet)


@_draw.register
def _(block: page.Subheading, sheet: Sheet) -> None:
    sheet.space(3)
    sheet.need(SUBHEADING.line + 25)
    sheet.start_section(plain(block.text), 1, strict=False)
    sheet.write_text(block.text, SUBHEADING)
    sheet.space(1.5)


@_draw.register
def _(block: page.Picture, sheet: Sheet) -> None:
    sheet.need(_least_height(block, sheet))
    caption = _caption_height(block, sheet)
    width, height = _full_size(block, sheet, caption)
    scale = min(1.0, (sheet.room() - caption - 1.5) / height)
    svg = BytesIO(_IMAGE.sub(_placed, _METADATA.sub(b"", block.drawn.svg)))
    top = sheet.y
    sheet.image(
        svg, SIDE, top, scale * width, scale * height, alt_text=plain(block.alt), title=block.name
    )
    sheet.set_y(top + scale * height + 1.5)
    if block.caption:
        sheet.write_text(block.caption, CAPTION)
    sheet.space(5)


def _caption_height(block: page.Picture, sheet: Sheet) -> float:
    return sheet.height_of(block.caption, CAPTION, sheet.epw) if block.caption else 0.0


def _full_size(block: page.Picture, sheet: Sheet, caption: float) -> tuple[float, float]:
    """Return a figure's width and height, mm: as wide as the text, unless that is too high."""
    _, root = next(ElementTree.iterparse(BytesIO(block.drawn.svg), ("start",)))
    _, _, width, height = map(float, str(root.get("viewBox")).split())
    wide = sheet.epw / width
    scale = min(wide, max(_HIGH / height, _LEAST_SCALE * wide), (TALLEST - caption - 3) / height)
    return scale * width, scale * height


@_draw.register
def _(block: page.Strip, sheet: Sheet) -> None:
    sheet.need(_STRIP_HEIGHT + 2 * BODY.line)
    if block.name:
        sheet.space(2)
        sheet.write_text(block.name, CAPTION)
        sheet.space(0.5)
    with sheet.local_context():
        for tone, start, stop in zip(block.tones, block.ends[:-1], block.ends[1:], strict=True):
            sheet.set_fill_color(tone.colour)
            # A little under the next one, which is drawn over it: no seam between the two.
            reach = min(stop + 0.002, 1.0)
            sheet.rect(
                SIDE + start * sheet.epw, sheet.y, (reach - start) * sheet.epw, _STRIP_HEIGHT, "F"
            )
    sheet.set_y(sheet.y + _STRIP_HEIGHT)


@_draw.register
def _(block: page.Facts, sheet: Sheet) -> None:
    width = sheet.epw - _NAME_WIDTH
    for name, value in block.rows:
        height = max(
            sheet.height_of(name, NAME, _NAME_WIDTH - 3), sheet.height_of(value, BODY, width)
        )
        sheet.need(min(height, TALLEST / 2))
        top, number = sheet.y, sheet.page_no()
        sheet.write_text(name, NAME, width=_NAME_WIDTH - 3)
        below = sheet.y
        sheet.set_y(top)
        sheet.write_text(value, BODY, x=SIDE + _NAME_WIDTH, width=width)
        if sheet.page_no() == number:
            sheet.set_y(max(sheet.y, below))
        sheet.set_y(sheet.y + 0.9)
    sheet.space(3)


@_draw.register
def _(block: page.Numbers, sheet: Sheet) -> None:
    height = _least_height(block, sheet)
    sheet.need(height)
    top, width = sheet.y, sheet.epw / max(len(block.numbers), 1)
    for place, number in enumerate(block.numbers):
        left = SIDE + place * width
        sheet.set_draw_color(LIGHT.rule)
        sheet.set_line_width(0.2)
        sheet.rect(left, top, width, height)
        sheet.set_y(top + _BOX_PAD)
        for text, type_ in _parts(number):
            sheet.write_text(text, type_, x=left + _BOX_PAD, width=width - 2 * _BOX_PAD)
    sheet.set_y(top + height)
    sheet.space(5)


def _parts(number: page.Number) -> tuple[tuple[str, Type], ...]:
    sign = "" if number.passed is None else ("✓ " if number.passed else "✗ ")
    note = ((sign + number.note, NOTE),) if number.note else ()
    return (number.name, SMALL_NAME), (number.value, VALUE), *note


@_draw.register
def _(block: page.Switch, sheet: Sheet) -> None:
    for label, blocks in block.cases:
        _draw_under_heading(sheet, f"{block.name}: {label}", blocks, SUBHEADING)


def _draw_under_heading(
    sheet: Sheet, heading: str, blocks: Sequence[page.Block], type_: Type = HEADING
) -> None:
    """Draw blocks below a heading that is not parted from the first of them."""
    first = _least_height(blocks[0], sheet) if blocks else 3 * BODY.line
    sheet.need(min(type_.line + 2 + first, TALLEST) + _PARTING)
    if type_ is HEADING:
        sheet.part()
    if heading:
        sheet.start_section(plain(heading), 0 if type_ is HEADING else 1, strict=False)
        sheet.write_text(heading, type_)
        sheet.space(2)
    for block in blocks:
        _draw(block, sheet)


# Tables: heads repeated on each sheet, rows kept whole, columns as wide as they need.


@_draw.register
def _(block: page.Table, sheet: Sheet) -> None:
    sheet.need(_least_height(block, sheet))
    if block.caption:
        sheet.write_text(block.caption, CAPTION)
        sheet.space(0.8)
    widths = _widths(sheet, block)
    sheet.use(CELL)
    sheet.set_draw_color(LIGHT.rule)
    sheet.set_line_width(0.2)
    aligns = ["LEFT" if i in block.words else "RIGHT" for i in range(len(block.head))]
    with sheet.table(
        align="LEFT",
        width=min(sum(widths), sheet.epw),
        col_widths=widths,
        text_align=aligns,
        borders_layout=TableBordersLayout.HORIZONTAL_LINES,
        line_height=CELL.line,
        headings_style=FontFace(emphasis="BOLD"),
        v_align="TOP",
        wrapmode=WrapMode.WORD,
    ) as table:
        heads = table.row()
        for column, heading in enumerate(block.head):
            heads.cell(plain(heading), padding=_padding(block, column))
        for cells in block.rows:
            row = table.row()
            for cell in cells:
                if isinstance(cell, Swatch):
                    row.cell("", style=FontFace(fill_color=cell.colour))
                else:
                    row.cell(plain(cell), padding=_padding(block, len(row.cells)))
    sheet.set_x(SIDE)
    sheet.space(5)


def _padding(block: page.Table, column: int) -> tuple[float, float, float, float]:
    """A cell's padding: top, right, bottom, left; words keep away from numbers before them."""
    left = 2 * _PAD if column in block.words and column > 0 else 0.0
    return 0.7, 0.0 if column in block.words else _PAD, 0.7, left


def _widths(sheet: Sheet, block: page.Table) -> list[float]:
    """Return each column what its longest cell needs; columns of words yield what lacks."""
    sheet.use(CELL_HEAD)
    # A heading may break between words.
    heads = [
        max((float(sheet.get_string_width(word)) for word in plain(heading).split()), default=0)
        for heading in block.head
    ]
    sheet.use(CELL)
    widths = [
        2 * _PAD + max(head, *(_cell_width(sheet, row[column]) for row in block.rows))
        for column, head in enumerate(heads)
    ]
    excess = sum(widths) - sheet.epw
    if excess > 0:
        wide = [column for column in block.words if widths[column] > _LEAST_WORDS]
        spare = sum(widths[column] - _LEAST_WORDS for column in wide)
        share = min(1.0, excess / spare) if spare else 0.0
        for column in wide:
            widths[column] -= share * (widths[column] - _LEAST_WORDS)
    if sum(widths) > sheet.epw:
        return [width * sheet.epw / sum(widths) for width in widths]
    more = min((sheet.epw - sum(widths)) / len(widths), _MOST_SPACE)
    return [width + more for width in widths]


def _cell_width(sheet: Sheet, cell: str | Swatch) -> float:
    if isinstance(cell, Swatch):
        return _SWATCH
    return float(sheet.get_string_width(plain(cell)))
