"""Figures within a page: nothing lost, letters shared, and the dark page's colours right."""

import re
from collections import Counter
from functools import partial
from xml.etree import ElementTree

import pytest

from greyscale.reporting.figures.ab_path import ab_path
from greyscale.reporting.figures.canvas import Canvas, Definitions, Pen, line_outline
from greyscale.reporting.figures.correction_curve import correction_curve
from greyscale.reporting.figures.metamerism_by_light import metamerism_by_light
from greyscale.reporting.figures.neutral_drift import neutral_drift
from greyscale.reporting.figures.papers import papers_by_lights, papers_drift, papers_strips
from greyscale.reporting.figures.ramp_strip import ramp_strip
from greyscale.reporting.figures.save import DrawnFigure
from greyscale.reporting.figures.tone_curve import tone_curve
from greyscale.reporting.style import DARK, LIGHT, inks

COLOUR = re.compile(r"(?:fill|stroke): ?(#[0-9a-f]{6})")


@pytest.fixture(scope="module")
def drawings(analysis, correction, comparison):
    of_analysis = (neutral_drift, tone_curve, ab_path, metamerism_by_light, ramp_strip)
    return {
        **{draw.__name__: partial(draw, analysis) for draw in of_analysis},
        "correction_curve": partial(correction_curve, correction),
        "papers_by_lights": partial(papers_by_lights, comparison),
        "papers_drift": partial(papers_drift, (comparison, (0,))),
        "papers_strips": partial(papers_strips, (comparison, 0)),
    }


def inlined(canvas) -> tuple[str, str]:
    """A figure's content and definitions."""
    definitions = Definitions()
    return canvas.inline(definitions).content, definitions.markup()


def with_inks(text: str, look) -> str:
    return re.sub(r"var\(--([\w-]+)\)", lambda found: inks(look)[found[1]], text)


@pytest.mark.parametrize(
    "name",
    [
        "neutral_drift", "tone_curve", "ab_path", "metamerism_by_light", "ramp_strip",
        "correction_curve", "papers_by_lights", "papers_drift", "papers_strips",
    ],
)  # fmt: skip
def test_in_a_dark_pages_inks_it_is_as_if_it_were_drawn_dark(drawings, name):
    content, definitions = inlined(drawings[name](LIGHT).canvas)
    turned = Counter(COLOUR.findall(with_inks(content + definitions, DARK)))
    dark = drawings[name](DARK).canvas.svg().decode()
    assert turned == Counter(COLOUR.findall(dark))


def test_in_a_light_pages_inks_nothing_of_the_file_is_lost(drawings):
    canvas = drawings["ab_path"](LIGHT).canvas
    content, _ = inlined(canvas)
    whole = ElementTree.fromstring(canvas.svg())
    shown = [one for one in whole if not one.tag.endswith(("}defs", "}metadata"))]
    plain = "".join(ElementTree.tostring(one, encoding="unicode") for one in shown)
    assert Counter(COLOUR.findall(with_inks(content, LIGHT))) == Counter(COLOUR.findall(plain))
    for tag in ("use", "path", "g"):
        assert content.count(f"<{tag} ") == sum(
            one.tag.endswith(f"}}{tag}") for part in shown for one in part.iter()
        )


def test_every_reference_is_to_a_definition_and_a_letter_is_defined_once(drawings):
    definitions = Definitions()
    contents = [
        DrawnFigure(drawings[name]).inline(definitions).content
        for name in ("tone_curve", "neutral_drift")
    ]
    defined = re.findall(r' id="(d\d+)"', definitions.markup())
    assert len(defined) == len(set(defined))
    for content in contents:
        assert set(re.findall(r"#(d\d+)", content)) <= set(defined)
    outlines = re.findall(r"<path id=\"d\d+\" (.*?)/>", definitions.markup())
    assert len(outlines) == len(set(outlines))


def test_figures_of_a_page_share_their_letters(drawings):
    drawn = [DrawnFigure(drawings[name]) for name in ("tone_curve", "neutral_drift", "ab_path")]
    shared, own = Definitions(), [Definitions() for _ in drawn]
    for one, definitions in zip(drawn, own, strict=True):
        assert one.inline(shared).ratio == one.inline(definitions).ratio
    assert len(shared.markup()) < 0.6 * sum(len(one.markup()) for one in own)


def test_numbers_keep_a_hundredth_of_a_point():
    canvas = Canvas(9, 9, "#ffffff")
    canvas.draw(line_outline([(1.23456, -0.001), (2, 3e-05)], closed=True), Pen(fill="#123456"))
    assert '<path d="M1.23 0L2 0Z" style="fill:#123456"/>' in inlined(canvas)[0]
