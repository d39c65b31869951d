"""The page of every report: self-contained, escaped, the same for the same input."""

import base64
import hashlib
import re
from html.parser import HTMLParser

import pytest
from matplotlib.figure import Figure

from greyscale.reporting.html import html
from greyscale.reporting.page import (
    CAUTIONS,
    Facts,
    Number,
    Numbers,
    Picture,
    Prose,
    Report,
    Section,
    Subheading,
    Switch,
    Table,
    pictures,
    strip,
)
from greyscale.reporting.style import Look, in_look, line, panels, swatches

HOSTILE = "<script>alert(1)</script><b>\"'&{{ 7 * 7 }}"
VOID = {"meta", "link", "br", "input", "hr"}


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
        Switch(text, lambda: ((text, (Prose(text),)), (text, (Facts(((text, text),)),)))),
        strip([0.0, 1.0], [[20, 0, 0], [95, 0, 0]], text),
    )
    return page(
        Section(text, blocks), kind=text, title=text, sentences=(text, text), facts=((text, text),),
        cautions=(text,), command=text,
    )  # fmt: skip


def page(*sections: Section, **changes) -> str:
    return html(Report(**{"kind": "kind", "title": "title", "sentences": ("lead",),
                          "sections": sections, **changes}))  # fmt: skip


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
    for tag, attributes in outline.tags:
        for name in {"src", "href", "srcset", "action", "data", "poster"} & attributes.keys():
            own = ("data:", "#") if attributes.get("class") != "save" else ("figures/plain.svg",)
            assert attributes[name].startswith(own), (tag, name)
        assert not any(name.startswith("on") for name in attributes)
    assert set(re.findall(r"url\((.)", hostile)) <= {"#"}
    assert "@import" not in hostile


def test_the_policy_lets_the_pages_own_script_run_and_no_other(hostile):
    (script,) = re.findall(r"<script>(.*?)</script>", hostile, re.DOTALL)
    policy = next(m["content"] for m in Outline(hostile).all("meta") if "http-equiv" in m)
    assert policy.startswith("default-src 'none'")
    own = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert re.search(r"script-src ([^;]*)", policy)[1] == f"'sha256-{own}'"


def test_every_figure_has_alternative_text_in_both_its_forms():
    figures = [svg for svg in Outline(everything("a lighthouse")).all("svg") if "role" in svg]
    assert [svg["class"] for svg in figures] == ["wide", "narrow"]
    assert all(svg["aria-label"] == "a lighthouse" for svg in figures)


def test_the_order_is_lead_then_sections_then_facts_then_cautions_then_command():
    text = page(
        Section("a section", (Prose("a block"),)), sentences=("the lead",),
        facts=(("a fact", "its value"),), cautions=("a caution",),
        command="greyscale analyse x.txt",
    )  # fmt: skip
    order = (
        "title</h1>", "the lead", "a section", "a block", "a fact", "its value", "a caution",
        "greyscale analyse x.txt",
    )  # fmt: skip
    places = [text.index(one) for one in order]
    assert places == sorted(places)


def test_the_cautions_are_there_unless_others_are_given():
    assert CAUTIONS[0] in page()
    assert "not conservation advice" in CAUTIONS[0]


def test_a_limit_is_told_by_sign_and_word_not_by_colour():
    numbers = Numbers((Number("1", "a", "within 2", True), Number("3", "b", "over 2", False)))
    text = page(Section("s", (numbers,)))
    assert "✓</span> within 2" in text
    assert "✗</span> over 2" in text


def test_the_same_report_is_the_same_page(hostile):
    assert everything(HOSTILE) == hostile


def test_pictures_are_given_in_order():
    first, second = (Picture(lambda look: drawing([1], look), name, "alt") for name in "ab")
    sections = (Section("s", (first, Prose("p"))), Section("t", (second,)))
    assert [picture.name for picture in pictures(sections)] == ["a", "b"]


def test_a_strips_tones_reach_half_way_to_their_neighbours_from_black_to_paper():
    drawn = strip([1.0, 0.0, 0.5, 0.75], [[95, 0, 0], [20, 0, 0], [50, 9, 0], [70, 0, 9]], "tones")
    assert drawn.tones == swatches([[20, 0, 0], [50, 9, 0], [70, 0, 9], [95, 0, 0]])
    assert drawn.ends == (0.0, 0.25, 0.625, 0.875, 1.0)
    colours = [tone.colour for tone in drawn.tones]
    text = page(Section("s", (drawn,)))
    gradient = ",".join(
        f"{colour} 0 {end}%" for colour, end in zip(colours, (25.0, 62.5, 87.5, 100.0), strict=True)
    )
    assert f"linear-gradient(90deg,{gradient})" in text
