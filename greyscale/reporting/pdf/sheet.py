"""The A4 sheet that a report is printed on: its measures, its letters, its foot."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from pathlib import Path

from fpdf import FPDF
from fpdf.enums import MethodReturnValue

from greyscale.reporting.style import LIGHT

MM_PER_POINT = 25.4 / 72
SIDE, TOP, BOTTOM = 15.0, 16.0, 18.0
"""Margins, mm."""

TALLEST = 297.0 - TOP - BOTTOM
"""Room from the upper margin to the lower one, mm."""


@dataclass(frozen=True)
class Type:
    """How one kind of text is set.

    Attributes
    ----------
    size
        Points.
    colour
        As `#rrggbb`.
    bold, mono
        The letters.
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
        for family, style, file in (
            ("text", "", "DejaVuSans.ttf"),
            ("text", "B", "DejaVuSans-Bold.ttf"),
            ("mono", "", "DejaVuSansMono.ttf"),
        ):
            self.add_font(family, style, _font_file(file))
        self.alias_nb_pages("{sheets}")

    def footer(self) -> None:
        """Name the report and count the sheets."""
        self.set_y(-11)
        self.use(FOOT)
        self.cell(self.epw - 13, 4, shortened(self._foot, 100))
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
        self,
        text: str,
        type_: Type,
        *,
        x: float = SIDE,
        width: float | None = None,
        align: str = "L",
    ) -> None:
        """Set a paragraph at the place reached, and go on below it."""
        self.use(type_)
        self.set_x(x)
        self.multi_cell(
            self.epw if width is None else width, type_.line, plain(text), align=align,
            new_x="LMARGIN", new_y="NEXT",
        )  # fmt: skip

    def rule(self, colour: str = LIGHT.rule) -> None:
        """Draw a hair line over the whole width."""
        self.set_draw_color(colour)
        self.set_line_width(0.2)
        self.line(SIDE, self.y, SIDE + self.epw, self.y)


def plain(text: str) -> str:
    """Make text fit to be set: no control characters, which names from files may hold."""
    return "".join(c if unicodedata.category(c) not in ("Cc", "Cs") else " " for c in text)


def shortened(text: str, limit: int) -> str:
    """Cut text that is too long, and show that it was."""
    return text if len(text) <= limit else text[: limit - 1].rstrip() + "…"


def _font_file(name: str) -> Path:
    """Return a font that comes with Matplotlib."""
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name
