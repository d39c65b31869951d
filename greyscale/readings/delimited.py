"""CSV: readings in text with a header of field names; comma, semicolon or tab between cells.

Lines before the header, and lines that begin with #, may state keywords: `# PAPER: kozo`,
`Condition;M1`. Units may stand in the header: `400 nm (%)`.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from greyscale.base.errors import BadInput
from greyscale.readings.assemble import ReadOptions
from greyscale.readings.fields import CURVE, FieldName, recognise_fields
from greyscale.readings.iso28178 import readings_of
from greyscale.readings.iso28178_text import KeywordLine, TextTable
from greyscale.readings.reading import Reading
from greyscale.readings.source_file import Contents, refuse_more_patches, text_lines, to_number

DELIMITERS = ("\t", ";", ",")

_BLANK = " "
"""Parts cells where nothing else does, if all of a line's words name fields."""

MOST_FIELDS = 5000
"""Spectra at 1 nm in four conditions take fewer."""

_FEWEST_WAVELENGTHS = 8
"""From so many on, wavelengths alone are taken for a header: no other column is needed."""

_FEWEST_BY_BLANKS = 4

_HEADER_WITHIN = 200
"""Lines in which the header is looked for."""

_WAVELENGTHS = re.compile(r"(?i)nm\b|wave ?length|λ|wellenlänge|longueur d.onde")
"""How the column of wavelengths is called, where spectra stand in columns."""

_UNIT_WORDS = (
    "% PCT PERCENT DEC DECIMAL FACTOR NM ° DEG L* A* B* CIELAB UNIT UNITS EINHEIT UNITÉ UNITÀ "
    "UNIDAD 0-1 0-100 0-255 0-65535"
)
"""Cells of the row of units that may stand below the names."""
_UNITS = frozenset(_UNIT_WORDS.split())

_NO_UNIT = frozenset(("", "-", "–", "—", "1"))
"""What stands in that row where a field has none; a patch that was not read may have it too."""

_KEYWORD = re.compile(r"([^:=\t;,]+)[:=\t;,](.*)")


@dataclass(frozen=True)
class _Header:
    line: int
    delimiter: str
    fields: tuple[str, ...]


def recognises(file: Contents) -> bool:
    """Tell whether a line of the text names fields between delimiters.

    Examples
    --------
    >>> recognises(Contents(b"patch;R;G;B;L*;a*;b*\\n1;255;255;255;96,1;0,2;-1,4", "a"))
    True
    >>> recognises(Contents(b"Dear colleague,\\nhere are the prints, and the frames.", "a"))
    False
    """
    return _header(_upright(text_lines(file.text))) is not None


def read_all(file: Contents, options: ReadOptions) -> list[Reading]:
    """Read every reading: one, or one per condition where a column states it.

    Raises
    ------
    BadInput
        With the line, if it is no table of numbers or what it states cannot be true.
    """
    lines, source = _upright(text_lines(file.text)), file.source
    header = _header(lines)
    if header is None:
        raise BadInput("no line names the fields (SAMPLE_ID, RGB_R, LAB_L, ...)", source, 1)
    if header.fields == CURVE:
        raise BadInput(
            "is a correction's curve: its colours are predicted, and none was measured; give the "
            "reading of a print",
            source,
            header.line,
        )
    if len(header.fields) > MOST_FIELDS:
        raise BadInput(
            f"names {len(header.fields)} fields, and {MOST_FIELDS} is the limit; export the "
            "spectra alone, or at wider steps",
            source,
            header.line,
        )
    rows, numbers = [], []
    for row, number in _rows(lines, header, source):
        rows.append(tuple(row))
        numbers.append(number)
        refuse_more_patches(len(rows), source, number)
    if not rows:
        raise BadInput("there are no rows below the names of the fields", source, header.line)
    keywords = tuple(_keywords(lines, header))
    table = TextTable(keywords, header.fields, header.line, tuple(rows), tuple(numbers))
    return readings_of([table], source, options)


def _upright(lines: list[str]) -> list[str]:
    """Turn spectra that stand in columns, each under its patch's id, into rows; else as given."""
    for at, line in enumerate(lines[:_HEADER_WITHIN]):
        for delimiter in DELIMITERS:
            ids = _cells(line, delimiter)
            if len(ids) > 2 and _WAVELENGTHS.match(ids[0]):
                columns = [_cells(below, delimiter) for below in lines[at + 1 :] if below.strip()]
                turned = _turned(ids, columns)
                # Looked for once: a long file may begin all its lines so.
                return [*lines[:at], *map(delimiter.join, turned)] if turned else lines
    return lines


def _turned(ids: Sequence[str], columns: Sequence[Sequence[str]]) -> list[list[str]]:
    """Rows of id and factors under a row of wavelengths; none where it is no such table."""
    grid = [to_number(row[0].removesuffix("nm")) if row else None for row in columns]
    if len(grid) < _FEWEST_WAVELENGTHS or any(len(row) != len(ids) for row in columns):
        return []
    if not all(nm is not None and 200 <= nm <= 2600 for nm in grid):
        return []
    head = ["SAMPLE_ID", *(f"nm{nm:g}" for nm in grid)]
    return [head, *([one, *(row[k] for row in columns)] for k, one in enumerate(ids[1:], start=1))]


def _header(lines: Sequence[str]) -> _Header | None:
    """Find the first line that names two fields, one of them no wavelength, or a spectrum's alone.

    Spreadsheets call the column of numbers #, so a line that begins with it and a delimiter may be
    one; not where another line names fields, unless that is a row of the same table.
    """
    plain, marked = (_first_header(lines, begins) for begins in ("", "#"))
    if plain is None or marked is None:
        return plain or marked
    is_row = len(plain.fields) == len(marked.fields) and _names(plain) < _names(marked)
    return marked if is_row and marked.line < plain.line else plain


def _first_header(lines: Sequence[str], begins: Literal["", "#"]) -> _Header | None:
    for number, line in enumerate(lines[:_HEADER_WITHIN], start=1):
        is_comment = line.lstrip().startswith("#")
        if is_comment != (begins == "#"):
            continue
        for delimiter in (*DELIMITERS, _BLANK):
            if delimiter not in line or (is_comment and line.lstrip()[1:2] != delimiter):
                continue
            cells = _cells(line, delimiter)
            # Of more than there may be the first tell that it is one, to be refused as such.
            fields = recognise_fields(cells if len(cells) <= MOST_FIELDS else cells[:100])
            names = [field.name for field in fields if field.name]
            if delimiter == _BLANK and not len(names) == len(cells) >= _FEWEST_BY_BLANKS:
                continue
            if len(names) >= 2 and (any(name != "SPECTRAL" for name in names) or _is_grid(fields)):
                return _Header(number, delimiter, tuple(cells))
    return None


def _is_grid(fields: Sequence[FieldName]) -> bool:
    """Whether all are wavelengths that go up, or down, in equal steps: no row of values does."""
    grid = [field.wavelength for field in fields if field.wavelength is not None]
    if len(grid) < max(_FEWEST_WAVELENGTHS, len(fields)):
        return False
    step = grid[1] - grid[0]
    return step != 0 and all(abs(b - a - step) < 0.5 for a, b in pairwise(grid))


def _names(header: _Header) -> int:
    """How many fields it names, wavelengths aside."""
    return sum(field.name not in ("", "SPECTRAL") for field in recognise_fields(header.fields))


def _cells(line: str, delimiter: str) -> list[str]:
    try:
        if delimiter == _BLANK:
            return line.split()
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
    except csv.Error:
        return []


def _rows(lines: Sequence[str], header: _Header, source: object) -> Iterator[tuple[list[str], int]]:
    count = len(header.fields)
    below = lines[header.line :]
    if header.delimiter == _BLANK:
        below = [line.strip() for line in below]
    blanks = header.delimiter == _BLANK
    reader = csv.reader(below, delimiter=header.delimiter, skipinitialspace=blanks)
    number, is_first = header.line + 1, True
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells) and not cells[0].startswith("#"):
                while len(cells) > count and not cells[-1]:
                    cells.pop()
                if len(cells) != count:
                    raise BadInput(
                        f"this row has {len(cells)} cells, and the header (line {header.line}) "
                        f"names {count}; put the row right, and set decimal commas apart from "
                        "the commas between cells",
                        source,
                        number,
                    )
                if not (is_first and _are_units(cells)):
                    yield cells, number
                is_first = False
            number = header.line + reader.line_num + 1
    except csv.Error as error:
        raise BadInput(f"is not a table ({error})", source, number) from error


def _are_units(cells: Sequence[str]) -> bool:
    """Whether they are what numbers are in: no row that could be a patch's."""
    bare = {cell.strip("[]() ").upper() for cell in cells}
    return bare <= _UNITS | _NO_UNIT and not bare <= _NO_UNIT


def _keywords(lines: Sequence[str], header: _Header) -> Iterator[KeywordLine]:
    for number, line in enumerate(lines, start=1):
        is_comment = line.lstrip().startswith("#") and number != header.line
        if not is_comment and (number >= header.line or not line.strip()):
            continue
        found = _KEYWORD.fullmatch(line.strip().removeprefix("#").strip(" "))
        if found is not None and (name := found.group(1).strip()):
            name = re.sub(r"[\s\-]+", "_", name).upper()
            yield name, found.group(2).strip(header.delimiter + ' "'), number
