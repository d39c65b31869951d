"""Tables for the terminal, without lines: words to the left, numbers to the right."""

from __future__ import annotations

from collections.abc import Sequence

from rich.table import Table


def plain_table(
    title: str | None = None, headings: Sequence[str] = (), words: Sequence[int] = (0,)
) -> Table:
    """Start a table.

    Parameters
    ----------
    words
        Columns that hold words, not numbers.
    """
    table = Table(
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
