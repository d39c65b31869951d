"""Whether XML is harmless: well-formed, no document type, no entities, not nested too deep."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NoReturn
from xml.parsers import expat

from greyscale.base.errors import BadInput

DEEPEST = 64
"""Elements within elements; CxF3 needs about a dozen."""

MOST_ELEMENTS = 200_000
"""CxF3 needs some fifteen for a patch in one condition; more would fill the memory."""


_BRACE = "}"
"""What ElementTree puts between a namespace and a name; expat takes no namespace that holds it."""


@dataclass(frozen=True)
class Outline:
    """What one pass over XML sees.

    Attributes
    ----------
    root
        Local name of the outermost element.
    namespace
        Its namespace, or "".
    lines
        For each element of the wanted name its line, in their order.
    """

    root: str
    namespace: str
    lines: tuple[int, ...]


def outline(text: str | bytes, source: object, wanted: str = "") -> Outline:
    """Go over XML once, before any other parser sees it.

    Parameters
    ----------
    text
        Text, or bytes where the next parser is to take the encoding from them: what is looked at
        then is what it will see, whatever encoding a declaration names.
    source
        The file's path, for messages.
    wanted
        Local name of the elements whose lines are asked for.

    Raises
    ------
    BadInput
        With the line: a document type or an entity declared, nesting deeper than `DEEPEST`,
        more than `MOST_ELEMENTS`, or XML that is not well-formed.

    Examples
    --------
    >>> outline("<a xmlns='http://example.org/'>\\n<b/></a>", "x", "b")
    Outline(root='a', namespace='http://example.org/', lines=(2,))
    """
    # A text is decoded already: the encoding it declares is overridden.
    encoding = "utf-8" if isinstance(text, str) else None
    parser = expat.ParserCreate(encoding=encoding, namespace_separator=_BRACE)
    watch = _Watch(parser, source, wanted)
    parser.StartElementHandler = watch.start
    parser.EndElementHandler = watch.end
    parser.StartDoctypeDeclHandler = watch.document_type
    parser.EntityDeclHandler = watch.document_type
    try:
        parser.Parse(text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text, True)
    except (ValueError, LookupError) as error:
        raise BadInput(
            "declares an encoding that cannot be read; save it as UTF-8", source, 1
        ) from error
    except expat.ExpatError as error:
        reason = expat.ErrorString(error.code)
        raise BadInput(
            f"is not well-formed XML ({reason}); export it again", source, error.lineno
        ) from error
    namespace, _, root = watch.outermost.rpartition(_BRACE)
    return Outline(root, namespace, tuple(watch.lines))


class _Watch:
    """What is asked of a parser as it goes: depth, count, and the lines of the wanted elements."""

    def __init__(self, parser: expat.XMLParserType, source: object, wanted: str) -> None:
        self.parser, self.source, self.wanted = parser, source, wanted
        self.depth, self.count = 0, 0
        self.outermost = ""
        self.lines: list[int] = []

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        self.count += 1
        if self.depth > DEEPEST:
            self.refuse(
                f"elements are nested deeper than {DEEPEST}, which no reading is; export it again"
            )
        if self.count > MOST_ELEMENTS:
            self.refuse(f"holds more than {MOST_ELEMENTS} elements; export one reading alone")
        if self.count == 1:
            self.outermost = name
        if name.rpartition(_BRACE)[2] == self.wanted:
            self.lines.append(self.parser.CurrentLineNumber)

    def end(self, name: str) -> None:
        self.depth -= 1

    def document_type(self, *_: object) -> None:
        self.refuse(
            "declares a document type or entities, which a reading has no use for and which can "
            "do harm; remove <!DOCTYPE ...> if you trust the file"
        )

    def refuse(self, why: str) -> NoReturn:
        raise BadInput(why, self.source, self.parser.CurrentLineNumber)
