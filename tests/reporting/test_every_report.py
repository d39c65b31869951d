"""What every report has, whatever it is of: how it was measured and judged, cautions, command."""

import pytest

from greyscale import __version__
from greyscale.reporting.html import html
from greyscale.reporting.page import CAUTIONS, pictures

KINDS = (
    "analysis", "analyses", "comparison", "correction", "verification", "drying", "trend",
)  # fmt: skip
JUDGED = {
    "analysis": "common practice, no source",
    "correction": "common practice, no source",
    "verification": "common practice, no source",
    "drying": "common practice, no source",
    "trend": "ISO 7870-2",
}


def test_no_kind_is_left_out(reports):
    assert set(reports) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_it_says_how_it_was_measured(pages, kind):
    page = pages[kind]
    for name in ("Condition", "Backing"):
        assert f"<dt>{name}</dt>" in page
    assert "M1" in page
    if kind != "correction":
        assert "observer" in page


@pytest.mark.parametrize(
    "kind", [kind for kind in KINDS if kind not in ("correction", "verification", "trend")]
)
def test_it_names_the_instrument_that_the_file_tells(pages, kind):
    assert "simulated spectrometer" in pages[kind]


@pytest.mark.parametrize("kind", JUDGED)
def test_it_says_where_the_limits_come_from(pages, kind):
    assert JUDGED[kind] in pages[kind]


@pytest.mark.parametrize("kind", KINDS)
def test_it_says_what_not_to_take_from_it_and_what_made_it(pages, reports, kind):
    assert set(CAUTIONS) <= set(reports[kind].cautions)
    assert f"Made with greyscale {__version__} by" in pages[kind]
    assert reports[kind].command.startswith("greyscale ")


@pytest.mark.parametrize("kind", KINDS)
def test_the_sentence_comes_first_and_a_picture_before_tables(pages, reports, kind):
    page = pages[kind]
    first = page.index('class="lead"')
    pictures_at = [page.find(sign) for sign in ("<figure", 'class="strip"') if sign in page]
    assert first < min(pictures_at) < page.index("<table")
    assert reports[kind].lead[0][-1] in ".!?"


@pytest.mark.parametrize("kind", KINDS)
def test_the_checks_are_named_when_they_were_made(reports, kind):
    page = html(reports[kind].with_fact("Checks", "nothing found"))
    assert "<dt>Checks</dt>\n<dd>nothing found</dd>" in page


@pytest.mark.parametrize("kind", KINDS)
def test_no_two_figures_have_one_name(reports, kind):
    names = [picture.name for picture in pictures(reports[kind].sections)]
    assert len(names) == len(set(names))
    assert all(picture.alt for picture in pictures(reports[kind].sections))


def test_a_page_is_small_enough_to_be_sent(pages):
    sizes = {kind: len(page.encode()) for kind, page in pages.items()}
    assert max(sizes.values()) < 700_000, sizes
    assert sizes["analysis"] < 350_000
