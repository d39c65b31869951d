"""What tables a text file of ISO 28178 (CGATS.17) holds, as words; nothing is decided about them.

Tolerant of what is found in the wild: any line end and encoding, tabs or spaces, quoted strings,
several tables, comments, field names over several lines, a count that is wrong by one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.readings.source_file import (
    MOST_LINES,
    decode,
    read_bytes,
    refuse_more_patches,
    text_lines,
)

# A quoted string (a quote inside it is doubled), a comment, or a word.
_TOKEN = re.compile(r'"([^"]*(?:""[^"]*)*)"(?=\s|$)|(#.*)|(\S+)')

MOST_TABLES = 500
"""A file has a few: pages of a chart, measuring conditions."""

_SIGNATURE = re.compile(r"\s*(CGATS|ISO[\s_]?28178|IT8)", re.IGNORECASE)


KeywordLine = tuple[str, str, int]
"""A keyword, its value without quotes ("" if there is none), and the line it stands on."""


@dataclass(frozen=True)
class TextTable:
    """One table of a file, as words.

    Attributes
    ----------
    keywords
        The keyword lines before the table's data, in their order; KEYWORD declarations too.
    fields
        The names of BEGIN_DATA_FORMAT, as spelt.
    rows
        The n rows, each with as many words as there are fields.
    lines
        The line of each row, counted from 1.
    """

    keywords: tuple[KeywordLine, ...]
    fields: tuple[str, ...]
    fields_line: int
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]


def looks_like_iso28178(text: str) -> bool:
    """Tell whether a text is, by its content, an ISO 28178 file.

    Examples
    --------
    >>> looks_like_iso28178("CGATS.17\\nORIGINATOR 'me'"), looks_like_iso28178("id;400;410")
    (True, False)
    """
    return _SIGNATURE.match(text) is not None or "BEGIN_DATA" in text.upper()


def parse_file(path: Path | str) -> TextFile:
    """Read and parse a file; see `parse`."""
    return parse(decode(read_bytes(path), path), path)


def parse(text: str, source: object) -> TextFile:
    """Parse the text of an ISO 28178 file.

    Raises
    ------
    BadInput
        With the line: no data format or no data, a row with too few or too many values, a
        NUMBER_OF_SETS wrong by more than one, a file that is cut off.

    Examples
    --------
    >>> lines = ["CGATS.17", "BEGIN_DATA_FORMAT", "SAMPLE_ID LAB_L", "END_DATA_FORMAT",
    ...          "BEGIN_DATA", '"dark grey" 20.5', "END_DATA"]
    >>> parse("\\n".join(lines), "ramp.txt").tables[0].rows
    (('dark grey', '20.5'),)
    """
    return TextFile(text, source)


def words(line: str) -> list[str]:
    """Split a line into words and quoted strings; a comment is left out.

    Examples
    --------
    >>> words('NAME "cotton rag, 2nd" 1,5 # tray 2')
    ['NAME', 'cotton rag, 2nd', '1,5']
    """
    if '"' not in line and "#" not in line:
        return line.split()
    found = []
    for match in _TOKEN.finditer(line):
        quoted, comment, word = match.groups()
        if comment is not None:
            break
        # A quote that is never closed is left out of its word.
        found.append(word.removeprefix('"') if quoted is None else quoted.replace('""', '"'))
    return found


class TextFile:
    """A parsed file, whose lines are gone through once; each section takes those of its own.

    Attributes
    ----------
    signature
        Its first line; "" if there is none.
    tables, remarks
        What it holds, and what was decided in parsing it, as sentences.
    """

    def __init__(self, text: str, source: object) -> None:
        self.source = source
        self.numbered: Iterator[tuple[int, str]] = enumerate(text_lines(text), start=1)
        self.line = 1
        self.signature = ""
        self.tables: list[TextTable] = []
        self.remarks: list[str] = []
        self.keywords: list[KeywordLine] = []
        self.fields: tuple[str, ...] = ()
        self.fields_line = 1
        self._parse()

    def _parse(self) -> None:
        first = True
        while (line := self._next_line()) is not None:
            entry = words(line)
            if not entry:
                continue
            name = entry[0].upper()
            if name == "BEGIN_DATA_FORMAT":
                self._read_fields(entry[1:])
            elif name == "BEGIN_DATA":
                self._read_data()
            elif first and (len(entry) == 1 or _SIGNATURE.match(line)):
                self.signature = " ".join(entry)
            elif len(entry) > 1 or not _SIGNATURE.match(name):
                value = " ".join(entry[1:]).strip()
                self.keywords.append((entry[0], value, self.line))
            first = False
        if not self.tables:
            missing = "BEGIN_DATA" if self.fields else "BEGIN_DATA_FORMAT"
            raise self._bad(f"there is no {missing}, so there is no data; export the file again")

    def _next_line(self) -> str | None:
        self.line, line = next(self.numbered, (self.line, None))
        return line

    def _bad(self, message: str, line: int | None = None) -> BadInput:
        return BadInput(message, self.source, line or self.line)

    def _read_fields(self, entry: list[str]) -> None:
        self.fields_line = self.line
        by_words: list[str] = []
        by_tabs: list[str] = []
        end = False
        while not end:
            end = bool(entry) and entry[-1].upper() == "END_DATA_FORMAT"
            names = entry[:-1] if end else entry
            if names and not by_words:
                self.fields_line = self.line
            by_words += names
            if end:
                break
            line = self._next_line()
            if line is None or line.strip().upper() == "BEGIN_DATA":
                raise self._bad("END_DATA_FORMAT is missing; export the file again")
            entry = words(line)
            if entry and entry[-1].upper() != "END_DATA_FORMAT":
                by_tabs += [cell.strip().strip('"') for cell in line.strip().split("\t")]
        stated = self._stated("NUMBER_OF_FIELDS")
        # Names with spaces in them hold together by tabs, when the count says so.
        by_tabs_fits = stated == len(by_tabs) != len(by_words)
        self.fields = tuple(by_tabs if by_tabs_fits else by_words)
        if not self.fields:
            raise self._bad("BEGIN_DATA_FORMAT names no fields", self.fields_line)
        if stated not in (None, len(self.fields)):
            self.remarks.append(
                f"NUMBER_OF_FIELDS says {stated}, and {len(self.fields)} are named; "
                "the names are taken."
            )

    def _read_data(self) -> None:
        if not self.fields:
            raise self._bad("BEGIN_DATA comes before any BEGIN_DATA_FORMAT")
        begin = self.line
        lines: list[int] = []
        rows: list[list[str]] = []
        ended, whole = False, 0
        while (line := self._next_line()) is not None:
            row = self._row(line)
            if not row:
                continue
            if row[0].upper() == "END_DATA" and not line.lstrip().startswith('"'):
                ended = True
                break
            whole += len(row) >= len(self.fields)
            refuse_more_patches(whole if len(rows) < MOST_LINES else len(rows), self.source,
                                self.line)  # fmt: skip
            rows.append(row)
            lines.append(self.line)
        rows, lines = self._unwrapped(rows, lines)
        for row, number in zip(rows, lines, strict=True):
            if len(row) != len(self.fields):
                raise self._bad(
                    f"this row has {_count(len(row), 'value')}, and BEGIN_DATA_FORMAT "
                    f"(line {self.fields_line}) names {_count(len(self.fields), 'field')}; "
                    "put the row right or export the file again",
                    number,
                )
        self._check_count(len(rows), begin, ended)
        table = TextTable(
            keywords=tuple(self.keywords),
            fields=self.fields,
            fields_line=self.fields_line,
            rows=tuple(map(tuple, rows)),
            lines=tuple(lines),
        )
        self.tables.append(table)
        if len(self.tables) > MOST_TABLES:
            raise self._bad(f"there are more than {MOST_TABLES} tables; export one reading alone")
        self.keywords = []

    def _row(self, line: str) -> list[str]:
        """Split a row: by tabs where that gives the right count, so that cells may be empty."""
        if "\t" not in line:
            return words(line)
        count = len(self.fields)
        if '"' in line or "#" in line:
            row = words(line)
            if len(row) == count or not row:
                return row
        cells = line.split("\t")
        if " " in line or not line.isascii():
            cells = [cell.strip() for cell in cells]
        if len(cells) == count + 1 and not cells[-1]:
            cells.pop()
        if len(cells) != count or count == 1:
            return words(line)
        if '"' not in line:
            return cells
        return [
            cell[1:-1] if len(cell) > 1 and cell[0] == cell[-1] == '"' else cell for cell in cells
        ]

    def _unwrapped(
        self, rows: list[list[str]], lines: list[int]
    ) -> tuple[list[list[str]], list[int]]:
        """Join rows that were broken over lines, if all of them were and all come out even."""
        count = len(self.fields)
        if len(rows) < 2 or any(len(row) >= count for row in rows):
            return rows, lines
        joined: list[list[str]] = []
        starts: list[int] = []
        current: list[str] = []
        for row, line in zip(rows, lines, strict=True):
            if not current:
                starts.append(line)
            current.extend(row)
            if len(current) > count:
                return rows, lines
            if len(current) == count:
                joined.append(current)
                current = []
        if current:
            return rows, lines
        self.remarks.append("Each row is broken over several lines; they are joined.")
        return joined, starts

    def _stated(self, name: str) -> int | None:
        said = [value for own, value, _ in self.keywords if own.upper() == name]
        if not said:
            return None
        if re.fullmatch(r"\d{1,9}", said[-1]) is None:
            self.remarks.append(f"{name} says '{said[-1][:40]}', which is not a count.")
            return None
        return int(said[-1])

    def _check_count(self, found: int, begin: int, ended: bool) -> None:
        stated = self._stated("NUMBER_OF_SETS")
        if not ended and stated != found:
            raise self._bad("END_DATA is missing, so the file is cut off; export it again")
        if found == 0:
            raise self._bad("there are no rows between BEGIN_DATA and END_DATA", begin)
        if not ended:
            self.remarks.append("END_DATA is missing; the rows are as many as NUMBER_OF_SETS says.")
        if stated is None or stated == found:
            return
        are = "is" if found == 1 else "are"
        message = f"NUMBER_OF_SETS says {stated}, and there {are} {_count(found, 'row')}"
        if abs(stated - found) > 1:
            line = [at for name, _, at in self.keywords if name.upper() == "NUMBER_OF_SETS"][-1]
            raise self._bad(f"{message}; part of the file is missing or doubled", line)
        self.remarks.append(f"{message}; the rows are taken as they are.")


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


# How keywords and a table are set as ISO 28178 text.

KeywordValue = tuple[str, str]
"""A keyword and its value, without quotes."""

# ISO 28178:2009, from memory; every other keyword or field must be declared with KEYWORD.
_STANDARD_NAMES = (
    "ORIGINATOR FILE_DESCRIPTOR DESCRIPTOR CREATED DIFFUSE_GEOMETRY MANUFACTURER MATERIAL SERIAL "
    "INSTRUMENTATION MEASUREMENT_SOURCE MEASUREMENT_GEOMETRY ILLUMINATION_NAME PRINT_CONDITIONS "
    "PROD_DATE FILTER POLARIZATION WEIGHTING_FUNCTION COMPUTATIONAL_PARAMETER SAMPLE_BACKING "
    "TARGET_TYPE COLORANT PROCESSCOLOR_ID CHISQ_DOF TABLE_DESCRIPTOR TABLE_NAME NUMBER_OF_FIELDS "
    "NUMBER_OF_SETS KEYWORD SAMPLE_ID SAMPLE_NAME STRING RGB_R RGB_G RGB_B CMYK_C CMYK_M CMYK_Y "
    "CMYK_K CMY_C CMY_M CMY_Y XYZ_X XYZ_Y XYZ_Z LAB_L LAB_A LAB_B SPECTRAL_NM SPECTRAL_PCT "
    "SPECTRAL_DEC"
)
_SPECTRAL_FIELD = re.compile(r"SPECTRAL_NM\d")
_PLAIN_WORD = re.compile(r"[^\s\"#][^\s\"]*")


def quoted(text: str) -> str:
    """Set a text as a quoted string on one line; a quote inside it is doubled.

    Examples
    --------
    >>> print(quoted('the "soft" one'))
    "the ""soft"" one"
    """
    one_line = re.sub(r"[\x00-\x1f]+", " ", text)
    return '"' + one_line.replace('"', '""') + '"'


def cell(text: str) -> str:
    """Set a text as one cell of a row: as it is where it is one word, else quoted.

    Examples
    --------
    >>> cell("A1"), cell("dark grey")
    ('A1', '"dark grey"')
    """
    ends_data = text.upper() == "END_DATA"
    return text if _PLAIN_WORD.fullmatch(text) and not ends_data else quoted(text)


def file_text(
    keywords: Iterable[KeywordValue], fields: Sequence[str], rows: Sequence[Sequence[str]]
) -> str:
    """Return the text of a file of one table.

    Parameters
    ----------
    keywords
        In their order; those that are not of ISO 28178 are declared.
    rows
        The cells, without quotes.
    """
    lines = ["CGATS.17"]
    declared = set(_STANDARD_NAMES.split())
    for spelt, value in keywords:
        name = re.sub(r"[\s\"#]+", "_", spelt)
        lines += _declaration(name, declared)
        lines.append(f"{name} {quoted(value)}")
    for field in fields:
        if not _SPECTRAL_FIELD.match(field):
            lines += _declaration(field, declared)
    lines += [
        f"NUMBER_OF_FIELDS {len(fields)}",
        "BEGIN_DATA_FORMAT",
        "\t".join(fields),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(rows)}",
        "BEGIN_DATA",
        *("\t".join(map(cell, row)) for row in rows),
        "END_DATA",
    ]
    return "\n".join(lines) + "\n"


def _declaration(name: str, declared: set[str]) -> list[str]:
    if name in declared:
        return []
    declared.add(name)
    return [f"KEYWORD {quoted(name)}"]
