"""Each kind of block on a sheet, kept together with what explains it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import singledispatch
from io import BytesIO
from xml.etree import ElementTree

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
from greyscale.reporting.pdf.tables import draw_table, least_table_height
from greyscale.reporting.style import LIGHT

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
    """Give the room, mm, that a block needs so that its heading may stand above it."""
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
