"""Whether XML is harmless: well-formed, no document type, no entities, not nested too deep."""

from __future__ import annotations

from dataclasses import dataclass
from xml.parsers import expat

from greyscale.errors import BadInput

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
    names: list[str] = []
    lines: list[int] = []
    depth, count = 0, 0

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth, count
        depth += 1
        count += 1
        if depth > DEEPEST:
            raise BadInput(
                f"elements are nested deeper than {DEEPEST}, which no reading is; export it again",
                source,
                parser.CurrentLineNumber,
            )
        if count > MOST_ELEMENTS:
            raise BadInput(
                f"holds more than {MOST_ELEMENTS} elements; export one reading alone",
                source,
                parser.CurrentLineNumber,
            )
        if not names:
            names.append(name)
        if name.rpartition(_BRACE)[2] == wanted:
            lines.append(parser.CurrentLineNumber)

    def end(name: str) -> None:
        nonlocal depth
        depth -= 1

    def document_type(*_: object) -> None:
        raise BadInput(
            "declares a document type or entities, which a reading has no use for and which can "
            "do harm; remove <!DOCTYPE ...> if you trust the file",
            source,
            parser.CurrentLineNumber,
        )

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.StartDoctypeDeclHandler = document_type
    parser.EntityDeclHandler = document_type
    try:
        parser.Parse(text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text, True)
    except (ValueError, LookupError) as error:
        raise BadInput(
            "declares an encoding that cannot be read; save it as UTF-8", source, 1
        ) from error
    except expat.ExpatError as error:
        reason = expat.ErrorString(error.code)
        raise BadInput(
            f"is no well-formed XML ({reason}); export it again", source, error.lineno
        ) from error
    namespace, _, root = names[0].rpartition(_BRACE)
    return Outline(root, namespace, tuple(lines))
