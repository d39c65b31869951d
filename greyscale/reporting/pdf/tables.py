"""Tables in a PDF: heads repeated on each sheet, rows kept whole, columns as wide as they need."""

from __future__ import annotations

from fpdf.enums import TableBordersLayout, WrapMode
from fpdf.fonts import FontFace

from greyscale.reporting.page import Table
from greyscale.reporting.pdf.sheet import CAPTION, CELL, CELL_HEAD, SIDE, Sheet, plain
from greyscale.reporting.swatches import Swatch

_PAD = 1.3
# Columns stand no farther apart than this; a wide table of short numbers is hard to read along.
_MOST_SPACE = 5.0
_SWATCH = 12.0
# A column of words may be narrower than its longest cell, but not than this.
_LEAST_WORDS = 22.0
_ROWS_TOGETHER = 3


def least_table_height(block: Table) -> float:
    """Give the room that caption, head and the first rows need, mm."""
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
    """Give a cell's padding: top, right, bottom, left; words keep away from numbers before them."""
    left = 2 * _PAD if column in block.words and column > 0 else 0.0
    return 0.7, 0.0 if column in block.words else _PAD, 0.7, left


def _widths(sheet: Sheet, block: Table) -> list[float]:
    """Give each column what its longest cell needs; columns of words yield what lacks."""
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
    """Give the width of a heading's longest word: it may break between words."""
    sheet.use(CELL_HEAD)
    return max((float(sheet.get_string_width(word)) for word in plain(heading).split()), default=0)


def _cell_width(sheet: Sheet, cell: str | Swatch) -> float:
    if isinstance(cell, Swatch):
        return _SWATCH
    sheet.use(CELL)
    return float(sheet.get_string_width(plain(cell)))
