"""Each kind of block on a sheet, kept together with what explains it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import singledispatch
from io import BytesIO
from xml.etree import ElementTree

from fpdf.enums import TableBordersLayout, WrapMode
from fpdf.fonts import FontFace

from greyscale.reporting.page import (
    Block,
    Facts,
    Number,
    Numbers,
    Picture,
    Prose,
    Strip,
    Subheading,
    Switch,
    Table,
)
from greyscale.reporting.pdf.sheet import (
    BODY,
    CAPTION,
    CELL,
    CELL_HEAD,
    HEADING,
    NAME,
    NOTE,
    SIDE,
    SMALL_NAME,
    SUBHEADING,
    TALLEST,
    VALUE,
    Sheet,
    Type,
    plain,
)
from greyscale.reporting.style import LIGHT
from greyscale.reporting.swatches import Swatch

# Tables in a PDF: heads repeated on each sheet, rows kept whole, columns as wide as they need.

_PAD = 1.3
# Columns stand no farther apart than this; a wide table of short numbers is hard to read along.
_MOST_SPACE = 5.0
_SWATCH = 12.0
# A column of words may be narrower than its longest cell, but not than this.
_LEAST_WORDS = 22.0
_ROWS_TOGETHER = 3


def least_table_height(block: Table) -> float:
    """Return the room that caption, head and the first rows need, mm."""
    rows = min(len(block.rows), _ROWS_TOGETHER)
    return (CAPTION.line if block.caption else 0) + (rows + 1) * (CELL.line + 2 * _PAD) + 4


def draw_table(sheet: Sheet, block: Table) -> None:
    """Set a table; it goes on over as many sheets as it needs."""
    sheet.need(least_table_height(block))
    if block.caption:
        sheet.write_text(block.caption, CAPTION)
        sheet.space(0.8)
    widths = _widths(sheet, block)
    sheet.use(CELL)
    sheet.set_draw_color("#dcdcdc")
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


def _padding(block: Table, column: int) -> tuple[float, float, float, float]:
    """A cell's padding: top, right, bottom, left; words keep away from numbers before them."""
    left = 2 * _PAD if column in block.words and column > 0 else 0.0
    return 0.7, 0.0 if column in block.words else _PAD, 0.7, left


def _widths(sheet: Sheet, block: Table) -> list[float]:
    """Return each column what its longest cell needs; columns of words yield what lacks."""
    widths = [
        max(
            _head_width(sheet, heading),
            *(_cell_width(sheet, row[column]) for row in block.rows),
        )
        + 2 * _PAD
        for column, heading in enumerate(block.head)
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


def _head_width(sheet: Sheet, heading: str) -> float:
    """Return the width of a heading's longest word: it may break between words."""
    sheet.use(CELL_HEAD)
    return max((float(sheet.get_string_width(word)) for word in plain(heading).split()), default=0)


def _cell_width(sheet: Sheet, cell: str | Swatch) -> float:
    if isinstance(cell, Swatch):
        return _SWATCH
    sheet.use(CELL)
    return float(sheet.get_string_width(plain(cell)))


_METADATA = re.compile(rb"<metadata>.*?</metadata>", re.DOTALL)
_NAME_WIDTH = 42.0
_LEAST_SCALE = 0.8
"""Figures are drawn that much smaller if they then need no new sheet."""
_HIGH = 140.0
"""Beyond this height, mm, they are drawn smaller anyway, so that something shares their sheet."""
_BOX_PAD = 2.2
_PARTING = 7.0
_STRIP_HEIGHT = 9.0


@singledispatch
def draw(block: object, sheet: Sheet) -> None:
    """Draw a block at the place reached on the sheet, and go on below it."""
    raise TypeError(f"no way to print {type(block).__name__}")


@singledispatch
def least_height(block: object, sheet: Sheet) -> float:
    """Return the room, mm, that a block needs so that its heading may stand above it."""
    return 3 * BODY.line


@draw.register
def _(block: Prose, sheet: Sheet) -> None:
    sheet.need(min(2 * BODY.line, sheet.height_of(block.text, BODY, sheet.epw)))
    sheet.space(1)
    sheet.write_text(block.text, BODY)
    sheet.space(2.5)


@draw.register
def _(block: Subheading, sheet: Sheet) -> None:
    sheet.space(3)
    sheet.need(SUBHEADING.line + 25)
    sheet.start_section(plain(block.text), 1, strict=False)
    sheet.write_text(block.text, SUBHEADING)
    sheet.space(1.5)


@least_height.register
def _(block: Picture, sheet: Sheet) -> float:
    caption = _caption_height(block, sheet)
    return _LEAST_SCALE * _full_size(block, sheet, caption)[1] + 1.5 + caption


@draw.register
def _(block: Picture, sheet: Sheet) -> None:
    sheet.need(least_height(block, sheet))
    caption = _caption_height(block, sheet)
    width, height = _full_size(block, sheet, caption)
    scale = min(1.0, (sheet.room() - caption - 1.5) / height)
    svg = BytesIO(_METADATA.sub(b"", block.drawn.svg))
    top = sheet.y
    sheet.image(
        svg, SIDE, top, scale * width, scale * height, alt_text=plain(block.alt), title=block.name
    )
    sheet.set_y(top + scale * height + 1.5)
    if block.caption:
        sheet.write_text(block.caption, CAPTION)
    sheet.space(5)


def _caption_height(block: Picture, sheet: Sheet) -> float:
    return sheet.height_of(block.caption, CAPTION, sheet.epw) if block.caption else 0.0


def _full_size(block: Picture, sheet: Sheet, caption: float) -> tuple[float, float]:
    """Return a figure's width and height, mm: as wide as the text, unless that is too high."""
    _, _, width, height = (float(number) for number in _view_box(block.drawn.svg).split())
    wide = sheet.epw / width
    scale = min(wide, max(_HIGH / height, _LEAST_SCALE * wide), (TALLEST - caption - 3) / height)
    return scale * width, scale * height


def _view_box(svg: bytes) -> str:
    for _, element in ElementTree.iterparse(BytesIO(svg), ("start",)):
        return str(element.get("viewBox"))
    raise ValueError("not an SVG")


@least_height.register
def _(block: Strip, sheet: Sheet) -> float:
    return 2 * _STRIP_HEIGHT + 2 * BODY.line


@draw.register
def _(block: Strip, sheet: Sheet) -> None:
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


@least_height.register
def _(block: Table, sheet: Sheet) -> float:
    return least_table_height(block)


@draw.register
def _(block: Table, sheet: Sheet) -> None:
    draw_table(sheet, block)


@draw.register
def _(block: Facts, sheet: Sheet) -> None:
    draw_facts(sheet, block.rows)


def draw_facts(sheet: Sheet, rows: tuple[tuple[str, str], ...]) -> None:
    """Set names and values in two columns."""
    width = sheet.epw - _NAME_WIDTH
    for name, value in rows:
        height = max(
            sheet.height_of(name, NAME, _NAME_WIDTH - 3), sheet.height_of(value, BODY, width)
        )
        sheet.need(min(height, TALLEST / 2))
        top, page = sheet.y, sheet.page_no()
        sheet.write_text(name, NAME, width=_NAME_WIDTH - 3)
        below = sheet.y
        sheet.set_y(top)
        sheet.write_text(value, BODY, x=SIDE + _NAME_WIDTH, width=width)
        if sheet.page_no() == page:
            sheet.set_y(max(sheet.y, below))
        sheet.set_y(sheet.y + 0.9)
    sheet.space(3)


@least_height.register
def _(block: Numbers, sheet: Sheet) -> float:
    width = sheet.epw / max(len(block.numbers), 1)
    return max(_number_height(sheet, number, width) for number in block.numbers)


@draw.register
def _(block: Numbers, sheet: Sheet) -> None:
    height = least_height(block, sheet)
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


def _number_height(sheet: Sheet, number: Number, width: float) -> float:
    inner = width - 2 * _BOX_PAD
    return 2 * _BOX_PAD + sum(sheet.height_of(text, type_, inner) for text, type_ in _parts(number))


def _parts(number: Number) -> tuple[tuple[str, Type], ...]:
    sign = "" if number.passed is None else ("✓ " if number.passed else "✗ ")
    note = ((sign + number.note, NOTE),) if number.note else ()
    return (number.name, SMALL_NAME), (number.value, VALUE), *note


@least_height.register
def _(block: Switch, sheet: Sheet) -> float:
    first = block.cases[0][1][0]
    return SUBHEADING.line + least_height(first, sheet)


@draw.register
def _(block: Switch, sheet: Sheet) -> None:
    for label, blocks in block.cases:
        draw_under_heading(sheet, f"{block.name}: {label}", blocks, SUBHEADING)


def draw_under_heading(
    sheet: Sheet, heading: str, blocks: Sequence[Block], type_: Type = HEADING
) -> None:
    """Draw blocks below a heading that is not parted from the first of them."""
    first = least_height(blocks[0], sheet) if blocks else 3 * BODY.line
    sheet.need(min(type_.line + 2 + first, TALLEST) + _PARTING)
    if type_ is HEADING:
        part(sheet)
    sheet.start_section(plain(heading), 0 if type_ is HEADING else 1, strict=False)
    sheet.write_text(heading, type_)
    sheet.space(2)
    for block in blocks:
        draw(block, sheet)


def part(sheet: Sheet) -> None:
    """Part what follows from what went before by a line, unless a sheet begins."""
    if not sheet.begins():
        sheet.space(0.4 * _PARTING)
        sheet.rule()
        sheet.space(0.6 * _PARTING)
