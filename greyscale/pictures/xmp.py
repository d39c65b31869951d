"""XMP (ISO 16684-1): properties of our own, set beside all that a packet holds already.

A packet is extended by text, not written anew: what other programs have put there stays as it is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from xml.etree import ElementTree
from xml.sax.saxutils import quoteattr

from greyscale.base.errors import BadInput
from greyscale.readings.source_file import outline

NAMESPACE = "urn:greyscale:xmp:1:"
"""The namespace of our own properties."""

PREFIX = "greyscale"

_RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
_EMPTY = (
    '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
    '<x:xmpmeta xmlns:x="adobe:ns:meta/">\n'
    f' <rdf:RDF xmlns:rdf="{_RDF}">\n'
    " </rdf:RDF>\n"
    "</x:xmpmeta>\n"
    '<?xpacket end="w"?>'
)
_END_OF_RDF = re.compile(r"(?<![ \t])[ \t]*</(?:[\w.-]+:)?RDF\s*>")
_CONTROL = re.compile("[\x00-\x1f\ufffe\uffff]")
"""Characters that XML cannot hold, or an attribute does not keep."""
_DESCRIPTION = re.compile(r"(?<![ \t])[ \t]*<(?:[\w.-]+:)?Description\b[^<>]*/>\n?")
_OWN = f'xmlns:{PREFIX}="{NAMESPACE}"'


def with_properties(packet: bytes | None, properties: Mapping[str, str]) -> bytes:
    """Add properties of our own namespace to a packet, in place of those it has.

    Parameters
    ----------
    packet
        As it stands in the file; none, or one that is no XMP, gives a new one.
    properties
        Names and values.

    Examples
    --------
    >>> own_properties(with_properties(None, {"Correction": "harbour light"}))
    {'Correction': 'harbour light'}
    """
    text = _text(packet)
    if text is None or not _END_OF_RDF.search(text):
        text = _EMPTY
    # Sought apart from the pattern, which would take time by the square of how often it is there.
    text = _DESCRIPTION.sub(lambda found: "" if _OWN in found[0] else found[0], text)
    *_, end = _END_OF_RDF.finditer(text)
    start = end.start()
    attributes = "".join(
        f"\n    {PREFIX}:{name}={quoteattr(_CONTROL.sub('', value))}"
        for name, value in properties.items()
    )
    added = (
        f'  <rdf:Description xmlns:rdf="{_RDF}" rdf:about=""\n'
        f'    xmlns:{PREFIX}="{NAMESPACE}"{attributes}/>\n'
    )
    return (text[:start] + added + text[start:]).encode("utf-8")


def own_properties(packet: bytes | None) -> dict[str, str]:
    """Return a packet's properties of our own namespace: as attributes or as elements."""
    text = _text(packet)
    if text is None:
        return {}
    own = f"{{{NAMESPACE}}}"
    found: dict[str, str] = {}
    for element in ElementTree.fromstring(text).iter():
        if element.tag.startswith(own):
            found[element.tag.removeprefix(own)] = (element.text or "").strip()
        for name, value in element.attrib.items():
            if name.startswith(own):
                found[name.removeprefix(own)] = value
    return found


def _text(packet: bytes | None) -> str | None:
    """Return a packet as text, if it is harmless XML."""
    if not packet:
        return None
    try:
        text = packet.decode("utf-8").strip("\ufeff\0 \t\r\n")
        outline(text, "XMP")
    except (UnicodeDecodeError, BadInput):
        return None
    return text
