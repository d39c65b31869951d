"""Figures within a page: nothing lost, letters shared, and the dark page's colours right."""

import re
from collections import Counter
from functools import partial
from xml.etree import ElementTree

import pytest
from support.families import family

from greyscale.reporting.figures.analysis import (
    ab_path,
    metamerism_by_light,
    neutral_drift,
    ramp_strip,
    tone_curve,
)
from greyscale.reporting.figures.correction import correction_curve
from greyscale.reporting.figures.papers import papers_by_lights, papers_drift, papers_strips
from greyscale.reporting.html import Definitions, inline_svg
from greyscale.reporting.style import DARK, LIGHT, DrawnFigure, applied, inks, laid_out, rendered

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


def inlined(svg: bytes) -> tuple[str, str]:
    """A figure's content and definitions."""
    definitions = Definitions()
    return inline_svg(svg, definitions).content, definitions.markup()


def with_inks(text: str, look) -> str:
    return re.sub(r"var\(--([\w-]+)\)", lambda found: inks(look)[found[1]], text)


@pytest.mark.parametrize(
    "name",
    family(
        (
            "neutral_drift", "tone_curve", "ab_path", "metamerism_by_light", "ramp_strip",
            "correction_curve", "papers_by_lights", "papers_drift", "papers_strips",
        ),
        ("neutral_drift", "ramp_strip", "papers_by_lights", "papers_strips"),
    ),
)  # fmt: skip
def test_in_a_dark_pages_inks_it_is_as_if_it_were_drawn_dark(drawings, name):
    content, definitions = inlined(DrawnFigure(drawings[name]).svg)
    turned = Counter(COLOUR.findall(with_inks(content + definitions, DARK)))
    with applied(DARK):
        dark = rendered(laid_out(drawings[name], DARK), "svg", DARK)
    again, again_definitions = inlined(dark)
    assert turned == Counter(COLOUR.findall(again + again_definitions))


def test_in_a_light_pages_inks_nothing_of_the_file_is_lost(drawings):
    svg = DrawnFigure(drawings["ab_path"]).svg
    content, definitions = inlined(svg)
    shown = re.sub(r"<defs>.*?</defs>", "", svg.decode(), flags=re.DOTALL)
    assert set(COLOUR.findall(with_inks(content, LIGHT))) == set(COLOUR.findall(shown))
    root = ElementTree.fromstring(svg)
    drawn = [one for one in root.iter() if one.tag.endswith(("}use", "}path"))]
    defined = len(re.findall(r"<path id=", definitions))
    assert content.count("<use") + content.count("<path") >= len(drawn) - 2 * defined


def test_every_reference_is_to_a_definition_and_a_letter_is_defined_once(drawings):
    definitions = Definitions()
    contents = [
        inline_svg(DrawnFigure(drawings[name]).svg, definitions).content
        for name in ("tone_curve", "neutral_drift")
    ]
    defined = re.findall(r' id="(d\d+)"', definitions.markup())
    assert len(defined) == len(set(defined))
    for content in contents:
        assert set(re.findall(r"#(d\d+)", content)) <= set(defined)
    outlines = re.findall(r"<path id=\"d\d+\" (.*?)/>", definitions.markup())
    assert len(outlines) == len(set(outlines))


def test_a_page_is_much_smaller_than_its_files(drawings):
    drawn = [DrawnFigure(drawings[name]) for name in ("tone_curve", "neutral_drift", "ab_path")]
    definitions = Definitions()
    content = sum(len(inline_svg(one.svg, definitions).content) for one in drawn)
    assert content + len(definitions.markup()) < 0.6 * sum(len(one.svg) for one in drawn)


def test_numbers_keep_a_hundredth_of_a_point():
    svg = (
        b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><!-- <b> -->'
        b'<path d="M 1.23456 -0.001 \nL 2 3e-05 \nz\n" style="fill: #123456"/></svg>'
    )
    assert inlined(svg)[0] == '<path d="M1.23 0L2 0z" style="fill:#123456"/>'
