"""The page of every report: self-contained, escaped, the same for the same input."""

from html.parser import HTMLParser

import pytest
from matplotlib.figure import Figure

from greyscale.reporting.page import (
    CAUTIONS,
    Facts,
    Number,
    Numbers,
    Picture,
    Prose,
    Section,
    Subheading,
    Table,
    pictures,
    render,
)
from greyscale.reporting.style import Look, in_look, line, panels
from greyscale.reporting.swatches import swatches

HOSTILE = "<script>alert(1)</script><b>\"'&{{ 7 * 7 }}"
VOID = {"meta", "link", "img", "source", "br", "input", "hr"}


class Outline(HTMLParser):
    """What tags and attributes a page has; fails on tags that do not close in order."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self._open: list[str] = []
        self.feed(page)
        assert self._open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        self.text += data

    def all(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]


@in_look
def drawing(values, look: Look) -> Figure:
    figure, (panel,) = panels(look, (2,))
    panel.plot(values, **line(0).options(look))
    return figure


def everything(text: str) -> str:
    """A page with every kind of block, `text` wherever text goes."""
    blocks = (
        Prose(text),
        Subheading(text),
        Numbers((Number(text, text, text, True), Number(text, text, text, False))),
        Facts(((text, text),)),
        Table((text, text), ((text, swatches([50, 0, 0])[0]),), text, frozenset({0})),
        Picture(lambda look: drawing([1, 2], look), text, text, text),
    )
    return render(
        text, (text, text), (Section(text, blocks),), ((text, text),), (text,), text, text
    )


@pytest.fixture(scope="module")
def hostile() -> str:
    return everything(HOSTILE)


def test_hostile_text_is_shown_as_it_stands_and_makes_no_tags(hostile):
    plain, bad = Outline(everything("plain")), Outline(hostile)
    assert [tag for tag, _ in bad.tags] == [tag for tag, _ in plain.tags]
    assert bad.text.count("alert(1)") == plain.text.count("plain")
    assert HOSTILE in bad.text


def test_nothing_is_asked_for_from_elsewhere(hostile):
    outline = Outline(everything("plain"))
    assert not outline.all("script")
    for tag, attributes in outline.tags:
        for name in {"src", "href", "srcset", "action", "data", "poster"} & attributes.keys():
            assert attributes[name].startswith("data:"), (tag, name)
        assert not any(name.startswith("on") for name in attributes)
    assert "url(" not in hostile
    assert "@import" not in hostile
    policy = next(m["content"] for m in outline.all("meta") if "http-equiv" in m)
    assert policy.startswith("default-src 'none'")


def test_every_image_has_alternative_text():
    images = Outline(everything("a lighthouse")).all("img")
    assert len(images) == 4
    assert all(image["alt"] == "a lighthouse" for image in images)


def test_the_order_is_lead_then_sections_then_facts_then_cautions_then_command():
    page = render(
        "title", ("the lead",), (Section("a section", (Prose("a block"),)),),
        (("a fact", "its value"),), ("a caution",), "greyscale analyse x.txt",
    )  # fmt: skip
    places = [
        page.index(text)
        for text in (
            "title</h1>",
            "the lead",
            "a section",
            "a block",
            "a fact",
            "its value",
            "a caution",
            "greyscale analyse x.txt",
        )
    ]
    assert places == sorted(places)


def test_the_cautions_are_there_unless_others_are_given():
    page = render("title", ("lead",), ())
    assert CAUTIONS[0] in page
    assert "no conservation advice" in CAUTIONS[0]


def test_a_limit_is_told_by_sign_and_word_not_by_colour():
    numbers = Numbers((Number("1", "a", "within 2", True), Number("3", "b", "over 2", False)))
    page = render("title", ("lead",), (Section("s", (numbers,)),))
    assert "✓</span> within 2" in page
    assert "✗</span> over 2" in page


def test_the_same_report_is_the_same_page(hostile):
    assert everything(HOSTILE) == hostile


def test_pictures_are_given_in_order():
    first, second = (Picture(lambda look: drawing([1], look), name, "alt") for name in "ab")
    sections = (Section("s", (first, Prose("p"))), Section("t", (second,)))
    assert [picture.name for picture in pictures(sections)] == ["a", "b"]
