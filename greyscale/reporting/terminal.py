"""What every result shows in the terminal: plain tables, and how it ends."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from copy import copy
from pathlib import Path
from textwrap import fill
from typing import Any

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from greyscale.base.rests_on import Support
from greyscale.reporting.grounds import grounds_note
from greyscale.reporting.next_step import NextStep

# Tables for the terminal, without lines: words to the left, numbers to the right.

_COMMAND = re.compile(r"greyscale (?:log )?[a-z]+(?: (?:--?[a-z]\S*|[A-Z]{2}\S*|[a-z]+(?= -)))*")


def wrapped(text: str, width: int, indent: str = "") -> str:
    """Break a text into lines of so many letters, never within a command.

    Parameters
    ----------
    indent
        Before every line but the first.

    Examples
    --------
    >>> print(wrapped("Measure yours (greyscale lights --glass).", 32))
    Measure yours
    (greyscale lights --glass).
    """
    whole = _COMMAND.sub(lambda command: command[0].replace(" ", "\0"), text)
    lines = fill(
        whole, width, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False
    )
    return lines.replace("\0", " ")


def _say(console: Console, text: str, style: str = "") -> None:
    console.print(Text(wrapped(text, console.width), style=style), soft_wrap=True)


_BETWEEN = 2  # Spaces after a column.


class PlainTable(Table):
    """A table whose cells are shown as they stand: brackets in a name mark nothing up."""

    def add_row(self, *cells: RenderableType | None, **options: Any) -> None:
        """Add a row."""
        super().add_row(
            *(Text(cell) if isinstance(cell, str) else cell for cell in cells), **options
        )

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Lay the rows out: all at once where they fit as they stand, for of many it takes long."""
        cells = [list(column.cells) for column in self.columns]
        plain = all(
            isinstance(cell, Text)
            and not (cell.style or cell.spans or set("\n\t") & set(cell.plain))
            for own in cells
            for cell in own
        )
        words = [[str(cell) for cell in own] for own in cells]
        widths = [
            max(map(cell_len, [str(column.header) * self.show_header, *own]))
            for column, own in zip(self.columns, words, strict=True)
        ]
        room = sum(widths) + _BETWEEN * len(widths)
        asked = self.box or any(
            column.width or column.min_width or column.style for column in self.columns
        )
        asked = asked or self.padding != (0, _BETWEEN, 0, 0)
        if asked or not plain or room > options.max_width:
            yield from super().__rich_console__(console, options)
            return
        head = copy(self)
        head.columns, head.rows = [column.copy() for column in self.columns], []
        for column, width in zip(head.columns, widths, strict=True):
            column.width = width
        yield from super(PlainTable, head).__rich_console__(console, options)
        right = [column.justify == "right" for column in self.columns]
        for row in zip(*words, strict=True):
            line = ""
            for word, width, to_the_right in zip(row, widths, right, strict=True):
                gap = " " * (width - cell_len(word))
                line += (gap + word if to_the_right else word + gap) + " " * _BETWEEN
            yield Segment(line + "\n")


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
        padding=(0, _BETWEEN, 0, 0),
        title_justify="left",
        title_style="bold",
        show_header=bool(headings),
    )
    for index, name in enumerate(headings):
        is_word = index in words
        table.add_column(name, justify="left" if is_word else "right", no_wrap=not is_word)
    return table


def conclude(
    console: Console,
    verdict: Sequence[str],
    step: NextStep | None = None,
    *,
    remarks: Iterable[str] = (),
    rests_on: Iterable[Support] = (),
    every: bool = False,
    written: Path | None = None,
) -> None:
    """Print the end of a result.

    Parameters
    ----------
    verdict
        Sentences; the first is the one that matters.
    step
        What to do next, if anything.
    remarks
        What must be known of the reading or the result.
    rests_on
        What its figures rest on; only what is less than fact is told.
    every
        Name each thing that is less than fact, instead of how many there are.
    written
        The report or the folder that was written.
    """
    lines = [*remarks, grounds_note(rests_on, every)]
    for line in filter(None, lines):
        _say(console, f"- {line}", "dim")
    if any(lines):
        console.print()
    first, *others = verdict
    _say(console, first, "bold")
    for sentence in others:
        _say(console, sentence)
    if written is not None:
        what = "The report is" if written.suffix else "Written to"
        console.print(Text(f"{what} {written}"), soft_wrap=True)
    if step is not None:
        _say(console, f"{step.words}{':' if step.commands else '.'}")
        # Not broken into lines, so that they can be copied from a narrow terminal as well.
        for command in step.commands:
            console.print(Text(f"  {command}"), soft_wrap=True)
