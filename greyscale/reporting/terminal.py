"""What a terminal shows: a report's words and tables, and how every result ends."""

from __future__ import annotations

import re
import sys
from collections.abc import Collection, Iterable, Iterator, Sequence
from copy import copy
from dataclasses import replace
from itertools import zip_longest
from pathlib import Path
from textwrap import fill
from typing import IO, Any, Literal, cast

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from greyscale.reporting import page
from greyscale.reporting.style import Swatch

# What is printed to: no line ends in blanks, to which rich pads texts and tables.


_BLANKS = re.compile(r"(?:\x1b\[[\d;]*m| )+$", re.MULTILINE)  # With the colours among them.


class _WithoutTrailingBlanks:
    """Standard output, or another file, that leaves out blanks at the ends of lines."""

    def __getattr__(self, name: str) -> Any:
        return getattr(sys.stdout, name)

    def write(self, text: str) -> int:
        return sys.stdout.write(_BLANKS.sub(lambda found: found[0].replace(" ", ""), text))


def terminal(**options: Any) -> Console:
    """Return the console that a command prints to."""
    return Console(file=cast("IO[str]", _WithoutTrailingBlanks()), highlight=False, **options)


# Tables for the terminal, without lines: words to the left, numbers to the right.

_COMMAND = re.compile(r"greyscale (?:log )?[a-z]+(?: (?:--?[a-z]\S*|[A-Z]{2}\S*|[a-z]+(?= -)))*")


def wrapped(text: str, width: int, indent: str = "") -> str:
    """Break a text into lines of so many letters, never within a command or before "%".

    The indent stands before every line but the first.

    Examples
    --------
    >>> print(wrapped("Measure yours (greyscale lights --glass).", 32))
    Measure yours
    (greyscale lights --glass).
    """
    whole = _COMMAND.sub(lambda command: command[0].replace(" ", "\0"), text)
    whole = whole.replace(" %", "\0%")
    lines = fill(
        whole, width, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False
    )
    return lines.replace("\0", " ")


def _lines(text: str, console: Console, style: str = "", indent: str = "") -> Text:
    return Text(wrapped(text, console.width, indent), style=style)


_BETWEEN = 2  # Spaces after a column.
_LEAST_NAME = 18  # Letters of a word that stay together in a column of words.
# Whether cells of numbers are broken between words, and spaces after a column: the first way of
# these in which a table fits is taken.
_WAYS = ((False, _BETWEEN), (False, 1), (True, _BETWEEN), (True, 1))
_MOST_ROWS = 40  # Of a table that is shown at once.
_STRIP = 60  # Letters that a strip of tones is long.


def _parted(text: str, width: int) -> str:
    """Part words that are longer than a line after a hyphen, a dot or the like, if they have one.

    Examples
    --------
    >>> _parted("the harbour-print-strip", 18)
    'the harbour-print- strip'
    """
    line = re.compile(rf".{{1,{width}}}(?:(?<=[-_./\\])|$)|.{{{width}}}")
    return re.sub(rf"\S{{{width + 1},}}", lambda word: " ".join(line.findall(word[0])), text)


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
            max(map(cell_len, [heads, *own]))
            for heads, own in zip(self._heads(), words, strict=True)
        ]
        room = sum(widths) + _BETWEEN * len(widths)
        styled = any(column.style for column in self.columns)
        if styled or not plain or room > options.max_width:
            fitted = self._fitted(words, options.max_width)
            if fitted is None:
                yield from self._row_by_row(words, options.max_width)
            else:
                yield from super(PlainTable, fitted).__rich_console__(console, options)
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

    def _fitted(self, words: Sequence[Sequence[str]], room: int) -> PlainTable | None:
        """Return it with headings and cells broken between words, or None where they don't fit."""
        numbers = [column.justify == "right" for column in self.columns]
        for parted, gap in _WAYS:
            widths = []
            for heads, own, is_number in zip(self._heads(), words, numbers, strict=True):
                cells = " ".join(own).split() if parted or not is_number else own
                longest = max(map(cell_len, [*heads.split(), *cells]), default=0)
                # Headings of numbers break between words, before names do; these have some room.
                widths.append(longest if is_number else min(longest, _LEAST_NAME))
            fits = sum(widths) + gap * len(widths) <= room
            if fits:
                break
        if not fits and self.show_header:
            return None
        wanted = [
            width if is_number else max(map(cell_len, [heads, *own]))
            for width, heads, own, is_number in zip(
                widths, self._heads(), words, numbers, strict=True
            )
        ]
        # What is left goes to the narrowest column that has use for it.
        for _ in range(room - sum(widths) - gap * len(widths)):
            short = [(width, i) for i, width in enumerate(widths) if width < wanted[i]]
            if short:
                widths[min(short)[1]] += 1
        fitted = copy(self)
        fitted.padding = (0, gap, 0, 0)
        fitted.columns = [
            replace(column, width=width, _cells=[Text(_parted(cell, width)) for cell in own])
            if fits
            else replace(column, max_width=width)
            for column, width, own in zip(self.columns, widths, words, strict=True)
        ]
        return fitted

    def _row_by_row(self, words: Sequence[Sequence[str]], width: int) -> Iterator[Text]:
        """Yield the rows as words where columns would be too narrow: each value by its heading."""
        if self.title:
            yield Text(wrapped(str(self.title), width), style=self.title_style or "")
        for row in zip(*words, strict=True):
            named = (
                f"{head} {cell}".strip()
                for head, cell in zip(self._heads(), row, strict=True)
                if cell.strip()
            )
            yield Text(wrapped(_parted("; ".join(named), width - 2), width, "  "))

    def _heads(self) -> list[str]:
        return [str(column.header) * self.show_header for column in self.columns]


def plain_table(
    title: str | None = None, headings: Sequence[str] = (), words: Collection[int] = (0,)
) -> PlainTable:
    """Start a table; columns that hold words, not numbers, are given by their indices."""
    table = PlainTable(
        title=title,
        box=None,
        padding=(0, _BETWEEN, 0, 0),
        title_justify="left",
        title_style="bold",
        show_header=bool(headings),
    )
    for index, name in enumerate(headings):
        justify: Literal["left", "right"] = "left" if index in words else "right"
        table.add_column(Text(name), justify=justify, overflow="fold")
    return table


def table_of(block: page.Table) -> PlainTable:
    """Return a report's table for a terminal; swatches are left to pages."""
    swatches = {i for row in block.rows for i, cell in enumerate(row) if isinstance(cell, Swatch)}
    shown = [i for i in range(len(block.head)) if i not in swatches]
    words = {place for place, i in enumerate(shown) if i in block.words}
    table = plain_table(block.caption or None, [block.head[i] for i in shown], words)
    for row in block.rows:
        table.add_row(*(str(row[i]) for i in shown))
    return table


def named_values(rows: Iterable[tuple[str, str]]) -> PlainTable:
    """Return names and values in two columns."""
    table = plain_table()
    table.add_column(style="bold", overflow="fold")
    table.add_column(overflow="fold")
    for row in rows:
        table.add_row(*row)
    return table


def show_report(
    report: page.Report,
    console: Console,
    every: bool = False,
    written: Path | None = None,
    further: Sequence[str] = (),
) -> None:
    """Print a report: what it is of, what stands there at once, what was found, and what is next.

    Parameters
    ----------
    console
        Where to print; it decides about colour (NO_COLOR, not a terminal: none).
    every
        All its words and tables, with every tone.
    written
        The page, or the folder, that was written.
    further
        Sentences on what else was written.
    """
    title: list[RenderableType] = []
    made: list[RenderableType] = [Text(line) for line in report.made]
    if report.named and report.sections:
        of = ((report.title, "bold"), (report.about, "dim"), (report.paragraph, ""))
        title += [_lines(text, console, style) for text, style in of if text]
    elif report.named:
        # What stands under a title alone follows at once; the title may be a file.
        title += [Text(report.title, style="bold"), *(Text(f"  {line}") for line in report.made)]
        made.clear()
    groups: list[list[RenderableType]] = [title]
    steps: list[list[RenderableType]] = []
    for section in report.sections:
        blocks = section.blocks
        if section.is_next:
            points = [one for one in blocks if isinstance(one, page.Points)]
            steps += _groups(section.heading, points, console)
            continue
        named = False
        if not every:
            blocks = tuple(one for one in blocks if getattr(one, "at_once", False))
            named = any(getattr(one, "caption", "") for one in blocks)
            blocks = tuple(_in_short(one) for one in blocks)
        groups += _groups("" if named else section.heading, blocks, console)
    if every and report.facts:
        facts = [page.Facts(report.facts)]
        groups += _groups("What was measured, and how", facts, console)
    remarks = report.untold if every else report.remarks
    note = page.grounds_note(report.rests_on, every)
    # What warns of all figures comes after what they rest on.
    lines = sorted((*remarks, note), key=lambda line: line in report.cautions)
    groups.append([_lines(f"- {line}", console, "dim") for line in lines if line])
    said = (*report.sentences, *further)
    bold = ("bold", *("" for _ in said))
    last = [*(_lines(line, console, how) for line, how in zip(said, bold, strict=False)), *made]
    if written is not None:
        last.append(Text(f"{'The report is' if written.suffix else 'Written to'} {written}"))
    if report.next_step is not None:
        step = report.next_step
        last.append(_lines(f"{step.words}{':' if step.commands else '.'}", console))
        last += [Text(f"  {command}") for command in step.commands]
    for place, group in enumerate(filter(None, [*groups, last, *steps])):
        if place:
            console.print()
        for one in group:
            # Texts are broken into lines already, or whole so that they can be copied.
            console.print(one, soft_wrap=isinstance(one, Text))


def _in_short(block: page.Block) -> page.Block:
    """Leave out rows of a table that is longer than a screen or two."""
    if not isinstance(block, page.Table) or len(block.rows) <= _MOST_ROWS:
        return block
    more = f"the first {_MOST_ROWS} of {len(block.rows)}, all with --verbose or -o DIR"
    caption = f"{block.caption}; {more}" if block.caption else f"T{more[1:]}"
    return replace(block, rows=block.rows[:_MOST_ROWS], caption=caption)


def _groups(
    heading: str, blocks: Sequence[page.Block], console: Console
) -> Iterator[list[RenderableType]]:
    """Yield what stands together below a heading; pictures never, strips only where colour is."""
    never = page.Picture if console.color_system else page.Picture | page.Strip
    told = [
        block
        for block in blocks
        if not isinstance(block, never)
        and (console.color_system or not getattr(block, "of_pictures", False))
    ]
    group: list[RenderableType] = [Text(heading, style="bold")] if told and heading else []
    indent = ""
    for block, after in zip_longest(told, told[1:]):
        if isinstance(block, page.Switch):
            yield group
            for label, inner in block.cases:
                yield from _groups(f"{block.name}: {label}", inner, console)
            group = []
            continue
        group += _drawn(block, console, indent)
        indent = "  " * (isinstance(block, page.Subheading) and block.at_once)
        if not isinstance(block, page.Strip | page.Subheading) and not (
            isinstance(block, page.Prose) and isinstance(after, page.Points)
        ):
            yield group
            group = []
    yield group


def _points(block: page.Points, console: Console) -> Iterator[Text]:
    for number, item in enumerate(block.items, start=1):
        words = item if isinstance(item, str) else item.words
        lead = "- " if isinstance(item, str) else f"{number:<3}"
        yield _lines(f"{lead}{words}", console, indent=" " * len(lead))
        if isinstance(item, page.NextStep):
            yield from (Text(f"   {command}") for command in item.commands)


def _drawn(block: page.Block, console: Console, indent: str = "") -> list[RenderableType]:
    match block:
        case page.Strip():
            ends = [round(_STRIP * end) for end in block.ends]
            tones = zip(block.tones, ends[:-1], ends[1:], strict=True)
            return [
                Text.assemble(*((" " * (to - at), f"on {tone.colour}") for tone, at, to in tones))
            ]
        case page.Facts():
            return [named_values(block.rows)]
        case page.Numbers():
            return [named_values([(one.name, f"{one.value}  {one.note}") for one in block.numbers])]
        case page.Table():
            return [table_of(block)]
        case page.Subheading():
            return [_lines(block.text, console, "bold")]
        case page.Prose():
            paragraphs = block.text.split("\n")
            return [_lines(f"{indent}{one}", console, indent=indent) for one in paragraphs]
        case page.Points():
            return [*_points(block, console)]
    raise TypeError(f"no way to print {type(block).__name__}")
