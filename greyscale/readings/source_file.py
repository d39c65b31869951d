"""What a file holds as bytes, text and harmless XML, before anyone asks for its format."""

from __future__ import annotations

import codecs
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import itemgetter
from pathlib import Path
from typing import NoReturn
from xml.parsers import expat

import numpy as np

from greyscale.base.errors import BadInput, no_such_file
from greyscale.base.plain_text import plain_text
from greyscale.colorimetry.arrays import Array

# How large a reading may be: beyond these limits it is refused by one message, in no time.

LARGEST_FILE = 50_000_000
"""Bytes. Three thousand patches at 1 nm are some 10 MB; a file beyond this is no reading."""

MOST_PATCHES = 10_000
"""Rows of one table. The largest published characterisations have some 3 000 patches."""

LONGEST_LINE = 1_000_000
"""Characters. A patch at 1 nm in four conditions takes some 20 000."""

MOST_LINES = 200_000
"""Lines of one table, where its rows are broken over several."""


def refuse_more_patches(count: int, source: object, line: int | None = None) -> None:
    """Refuse a reading of more than `MOST_PATCHES` patches.

    Raises
    ------
    BadInput
        With the limit.
    """
    if count > MOST_PATCHES:
        raise BadInput(
            f"holds more than {MOST_PATCHES} patches, which is the limit of a reading; export the "
            "grey and near-neutral patches alone",
            source,
            line,
        )


_BYTE_ORDER_MARKS = (
    # The mark of UTF-32 begins with that of UTF-16, so it is asked for first.
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)

# Tab, line feed, form feed, carriage return and the end mark of old files (Ctrl-Z) are text.
_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0e-\x19\x1b-\x1f\ufffe\uffff]")

_PLAIN = bytes(range(32, 127)) + b"\t\n\f\r"  # Nothing but these: ASCII, and nothing unseen.

_LETTERS = "äöüßÜéèêàçùûÉÈÀÇáúãõåæøÅ°"
"""Beyond ASCII in German, French, Italian, Spanish and Nordic headings; those that have a Windows
dash, quote or bullet as their Mac Roman byte are left out."""


def read_bytes(
    path: Path | str,
    largest: int = LARGEST_FILE,
    advice: str = "a reading takes far less, so export it alone",
) -> bytes:
    """Read a whole file, if it is one and not too large.

    Parameters
    ----------
    largest
        Bytes that it may have.
    advice
        What to do about one that has more.

    Raises
    ------
    BadInput
        If there is none, it cannot be read, is empty, or too large; its size is looked at before
        it is read.
    """
    file = Path(path)
    try:
        size = file.stat().st_size
        if not (file.is_dir() or file.is_file()):
            # A named pipe waits for who writes into it, and a device may never end.
            raise BadInput("is a device or a pipe, not a file; save it as a file first", path)
        if file.is_dir():
            raise BadInput("is a folder; give a file here", path)
        if size <= largest:
            with file.open("rb") as stream:
                data = stream.read(size + 1)
                # The file may have grown.
                if len(data) > size:
                    data += stream.read(largest - size)
            size = len(data)
    except FileNotFoundError as error:
        raise no_such_file(path) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise BadInput(f"cannot be read ({reason})", path) from error
    if size > largest:
        megabytes = f"{size / 1e6:.0f} MB" if size > largest + 1 else "too much"
        raise BadInput(
            f"holds {megabytes}, and {largest / 1e6:.0f} MB is the limit; {advice}", path
        )
    if not data.strip():
        raise BadInput("the file is empty; export it again, or take an undamaged copy", path)
    return data


@dataclass(frozen=True)
class Contents:
    """What a file holds: its bytes, and its text for the formats that are text."""

    data: bytes
    source: Path | str

    @cached_property
    def text(self) -> str:
        """Its text, see `decode`, which refuses what is none."""
        return decode(self.data, self.source)


def decode(data: bytes, source: object) -> str:
    """Turn bytes into text: UTF-8, UTF-16 or UTF-32, with or without its mark; else Latin-1 or
    Mac Roman.

    Signs that nobody sees are left out, see `plain_text`.

    Raises
    ------
    BadInput
        If it is no text.
    """
    plain = not data.translate(None, _PLAIN)
    text = data.decode("ascii") if plain else _as_seen(data, source)
    _refuse_long_lines(text, source)
    return text


def _as_seen(data: bytes, source: object) -> str:
    text = _decoded(data)
    found = None if text is None else _NOT_TEXT.search(text)
    if text is None or found is not None:
        line = None if text is None or found is None else text.count("\n", 0, found.start()) + 1
        raise BadInput("is a binary file; export the measurements as text or CxF3", source, line)
    return plain_text(text.rstrip("\x1a"))


def _refuse_long_lines(text: str, source: object) -> None:
    if len(text) <= LONGEST_LINE or text.lstrip().startswith("<"):  # XML may be one line.
        return
    for number, line in enumerate(text_lines(text), start=1):
        if len(line) > LONGEST_LINE:
            raise BadInput(
                f"this line has {len(line)} characters, and {LONGEST_LINE} is the limit; "
                "a quotation mark may be missing, or the end of a row",
                source,
                number,
            )


def _decoded(data: bytes) -> str | None:
    for mark, encoding in _BYTE_ORDER_MARKS:
        if data.startswith(mark):
            try:
                return data.decode(encoding)
            except UnicodeDecodeError:
                return None
    # Without its mark UTF-16 shows itself by a zero in every second byte of plain letters.
    beginning = data[:400]
    if len(data) % 2 == 0 and b"\x00" in beginning:
        for encoding, zeros in (("utf-16-le", beginning[1::2]), ("utf-16-be", beginning[::2])):
            if zeros.count(0) > 0.8 * len(zeros):
                try:
                    return data.decode(encoding)
                except UnicodeDecodeError:
                    return None
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        # Latin-1, with the dashes and quotes that Windows has in the place of controls; or what
        # Macs call text, where that gives more of the letters that words are made of.
        seen = data[:100_000].translate(None, _PLAIN)
        letters = {
            encoding: sum(map(seen.decode(encoding, "replace").count, _LETTERS))
            for encoding in ("cp1252", "mac_roman")
        }
        return data.decode(max(letters, key=letters.__getitem__), "replace")


def text_lines(text: str) -> list[str]:
    """Split text at CR, LF or CRLF, and nowhere else.

    Examples
    --------
    >>> text_lines("a\\r\\nb\\rc\\u2028d")
    ['a', 'b', 'c\\u2028d']
    """
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


# Whether XML is harmless: well-formed, no document type, no entities, not nested too deep.

DEEPEST = 64
"""Elements within elements; CxF3 needs about a dozen."""

MOST_ELEMENTS = 200_000
"""CxF3 needs some fifteen for a patch in one condition; more would fill the memory."""


_BRACE = "}"
"""What ElementTree puts between a namespace and a name; expat takes no namespace that holds it."""


class Outline:
    """What one pass over XML sees, before any other parser sees it.

    Parameters
    ----------
    text
        Text, or bytes where the next parser is to take the encoding from them: what is looked at
        then is what it will see, whatever encoding a declaration names.
    source
        The file's path, for messages.
    wanted
        Local name of the elements whose lines are asked for.

    Attributes
    ----------
    root, namespace
        Local name of the outermost element, and its namespace, or "".
    lines
        For each element of the wanted name its line, in their order.

    Raises
    ------
    BadInput
        With the line: a document type or an entity declared, nesting deeper than `DEEPEST`,
        more than `MOST_ELEMENTS`, or XML that is not well-formed.

    Examples
    --------
    >>> seen = Outline("<a xmlns='http://example.org/'>\\n<b/></a>", "x", "b")
    >>> seen.root, seen.namespace, seen.lines
    ('a', 'http://example.org/', [2])
    """

    def __init__(self, text: str | bytes, source: object, wanted: str = "") -> None:
        self.source, self.wanted = source, wanted
        self.depth = self.count = 0
        self.root = self.namespace = ""
        self.lines: list[int] = []
        # A text is decoded already: the encoding it declares is overridden.
        encoding = "utf-8" if isinstance(text, str) else None
        self.parser = expat.ParserCreate(encoding=encoding, namespace_separator=_BRACE)
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.StartDoctypeDeclHandler = self._document_type
        self.parser.EntityDeclHandler = self._document_type
        data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
        try:
            self.parser.Parse(data, True)
        except (ValueError, LookupError) as error:
            raise BadInput(
                "declares an encoding that cannot be read; save it as UTF-8", source, 1
            ) from error
        except expat.ExpatError as error:
            reason = expat.ErrorString(error.code)
            raise BadInput(
                f"is not well-formed XML ({reason}); export it again", source, error.lineno
            ) from error

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        self.count += 1
        if self.depth > DEEPEST:
            self._refuse(
                f"elements are nested deeper than {DEEPEST}, which no reading is; export it again"
            )
        if self.count > MOST_ELEMENTS:
            self._refuse(f"holds more than {MOST_ELEMENTS} elements; export one reading alone")
        namespace, _, local = name.rpartition(_BRACE)
        if self.count == 1:
            self.root, self.namespace = local, namespace
        if local == self.wanted:
            self.lines.append(self.parser.CurrentLineNumber)

    def _end(self, name: str) -> None:
        self.depth -= 1

    def _document_type(self, *_: object) -> None:
        self._refuse(
            "declares a document type or entities, which a reading has no use for and which can "
            "do harm; remove <!DOCTYPE ...> if you trust the file"
        )

    def _refuse(self, why: str) -> NoReturn:
        raise BadInput(why, self.source, self.parser.CurrentLineNumber)


_WITH_COMMA = re.compile(r"[+-]?\d*,\d+(?:[eE][+-]?\d+)?|[+-]?\d+,")


def to_number(text: str) -> float | None:
    """Return the finite number that a word states, or None.

    Examples
    --------
    >>> to_number("0,25"), to_number("1e2"), to_number("nan"), to_number("n/a")
    (0.25, 100.0, None, None)
    """
    word = text.strip().replace("\u2212", "-")  # The minus of typographers.
    if _WITH_COMMA.fullmatch(word):
        word = word.replace(",", ".")
    try:
        value = float(word)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def to_numbers(
    rows: Sequence[Sequence[str]],
    columns: Sequence[int],
    names: Sequence[str],
    lines: Sequence[int],
    source: object,
) -> Array:
    """Turn columns of words into an array of shape (rows, columns).

    Raises
    ------
    BadInput
        Naming line and field of the first word that is no number, is missing or not finite.
    """
    try:
        # The first column twice: of one alone its word would come, and no tuple.
        words = itemgetter(columns[0], *columns)
        values = np.array([words(row) for row in rows], dtype=np.float64)
        if np.isfinite(values).all():
            return values.reshape(len(rows), -1)[:, 1:]
    except ValueError:
        pass
    values = np.empty((len(rows), len(columns)))
    for k, (row, line) in enumerate(zip(rows, lines, strict=True)):
        for j, i in enumerate(columns):
            value = to_number(row[i])
            if value is None:
                word = row[i].strip()
                found = f"{names[j]} is '{word[:40]}', which is not a number"
                if not word:
                    found = f"{names[j]} is missing"
                raise BadInput(f"{found}; measure this patch again or put it right", source, line)
            values[k, j] = value
    return values
