"""Words that would do something in a page, if they were taken for more than words."""

from __future__ import annotations

from html.parser import HTMLParser
from xml.etree import ElementTree

HOSTILE = (
    "</script></title></style></svg><script>document.title='owned'</script>"
    "<img src=http://example.test/x onerror=\"document.title='owned'\"><svg onload='x()'>"
    "<!-- ]]> <?x?> javascript:x() $\\frac{x}$ \"quoted\" 'too' &lt; & {{ 7 * 7 }} {% raw %}"
    "[/bold] [red]red[/] [link=http://example.test]l[/link] \x1b[2J \x9b31m \u202e end"
)

HOSTILE_NAME = "\"'><script>document.title='owned'<img src=x onerror=x()>&lt;{{ 7 * 7 }}$\\frac{x}$"
"""The same as the name of a file, which holds no slash."""


class Outline(HTMLParser):
    """What a browser would take for more than text."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.scripts, self.handlers, self.sources, self.text = 0, [], [], []
        self.tags: set[str] = set()
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attributes) -> None:
        self.scripts += tag == "script"
        self.tags.add(tag)
        for name, value in attributes:
            if name.startswith("on"):
                self.handlers.append((tag, name))
            if name in ("src", "href", "action", "data", "xlink:href"):
                self.sources.append(value or "")

    def handle_data(self, data: str) -> None:
        self.text.append(data)

    @property
    def outside(self) -> list[str]:
        """Sources that lie outside the report's folder."""
        return [s for s in self.sources if not s.startswith(("data:", "#", "figures/"))]


def harmful_in_svg(content: bytes) -> list[str]:
    """Name what an SVG holds that would do something when a browser opens it."""
    found = []
    for element in ElementTree.fromstring(content).iter():
        tag = element.tag.rpartition("}")[2]
        if tag in ("script", "foreignObject", "iframe", "a", "set", "animate"):
            found.append(tag)
        for name, value in element.attrib.items():
            plain = name.rpartition("}")[2]
            # Pixels that stand in the file itself do nothing, and are fetched from nowhere.
            within = value.startswith("#") or (
                tag == "image" and value.startswith("data:image/png;base64,")
            )
            if plain.startswith("on") or (plain == "href" and not within):
                found.append(f"{tag} {plain}={value[:40]}")
    return found
