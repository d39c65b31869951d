"""Tables for the terminal, without lines: words to the left, numbers to the right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text


class PlainTable(Table):
    """A table whose cells are shown as they stand: brackets in a name mark nothing up."""

    def add_row(self, *cells: RenderableType | None, **options: Any) -> None:
        """Add a row."""
        super().add_row(
            *(Text(cell) if isinstance(cell, str) else cell for cell in cells), **options
        )


def plain_table(
    title: str | None = None, headings: Sequence[str] = (), words: Sequence[int] = (0,)
) -> PlainTable:
    """Start a table.

    Parameters
    ----------
    words
        Columns that hold words, not numbers.
    """
    table = PlainTable(
        title=title,
        box=None,
        padding=(0, 2, 0, 0),
        title_justify="left",
        title_style="bold",
        show_header=bool(headings),
    )
    for index, name in enumerate(headings):
        is_word = index in words
        table.add_column(name, justify="left" if is_word else "right", no_wrap=not is_word)
    return table
