"""Every report in a browser: phone and desk, light and dark, printed; without any request.

Accessibility is checked by axe-core (WCAG 2.1 A and AA, and its best practices): contrast,
alternative texts, order of headings, labels, language, heads of tables.
"""

import subprocess

import pytest
from PIL import Image
from pypdf import PdfReader
from support.browser import look, needs_browser, needs_pdftoppm
from support.families import family

from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.html import html
from greyscale.reporting.page import Switch

pytestmark = needs_browser

PHONE, DESK = 390, 1200
KINDS = (
    "analysis", "analyses", "comparison", "correction", "verification", "drying", "trend",
)  # fmt: skip


@pytest.fixture(
    scope="module",
    params=[
        pytest.param(False, id="light"),
        pytest.param(True, id="dark", marks=pytest.mark.exhaustive),
    ],
)
def looks(browser, pages, tmp_path_factory, request):
    """All pages, looked at by phone and at a desk, on a light screen or a dark one."""
    dark, folder = request.param, tmp_path_factory.mktemp("browser")
    browser.darkness(dark)
    # On a light screen by phone: texts, names, order and contrast are the same at a desk.
    checked = (PHONE, DESK) if dark else (PHONE,)
    found = {
        (kind, width): look(browser, pages[kind], width, folder, accessibility=width in checked)
        for kind in KINDS
        for width in (PHONE, DESK)
    }
    browser.darkness(False)
    return {**found, "dark": dark}


@pytest.mark.parametrize("width", [PHONE, DESK])
@pytest.mark.parametrize("kind", KINDS)
def test_it_fits_its_screen_and_asks_for_nothing(looks, kind, width):
    seen = looks[kind, width]
    assert seen["width"] == width
    assert seen["scroll"] <= width
    assert seen["requests"] == []
    assert seen["console"] == []
    assert set(seen["shown"]) == {"narrow" if width == PHONE else "wide"}
    assert seen["shown"]
    assert seen["empty"] == 0
    assert seen["smallest"] >= 12
    assert seen["ground"] == ("rgb(28, 28, 28)" if looks["dark"] else "rgb(255, 255, 255)")


@pytest.mark.parametrize("kind", KINDS)
def test_it_can_be_used_by_everyone(looks, kind):
    assert looks[kind, PHONE]["violations"] == []
    assert not looks[kind, DESK].get("violations")


def test_hostile_names_run_nothing_fetch_nothing_and_do_not_widen_it(
    browser, hostile_analysis, tmp_path
):
    page = html(analysis_report([hostile_analysis], "greyscale analyse '<script>'"))
    seen = look(browser, page, PHONE, tmp_path)
    assert seen["title"] != "owned"
    assert seen["requests"] == []
    assert seen["scroll"] <= PHONE
    assert seen["empty"] == 0
    assert seen["console"] == []


def test_it_would_be_noticed(browser, pages, tmp_path):
    """The tests above can fail: a page with a script, a request and a wide table is found out."""
    bad = pages["analysis"].replace(
        "</main>",
        "<script>document.title = 'owned'; console.error('oh')</script>"
        "<img src='http://example.test/x.png'><p style='width: 900px; color: #ddd'>wide</p></main>",
    )
    seen = look(browser, bad, PHONE, tmp_path, accessibility=True)
    assert seen["title"] == "owned"
    assert seen["requests"] == ["http://example.test/x.png"]
    assert seen["scroll"] > PHONE
    assert seen["console"]
    assert {one.split(":")[0] for one in seen["violations"]} >= {"image-alt", "color-contrast"}


def test_the_pages_policy_stops_other_scripts_by_itself_but_not_its_own(browser, pages, tmp_path):
    file = tmp_path / "report.html"
    file.write_text(
        pages["analysis"].replace("</main>", "<script>document.title = 'owned'</script></main>"),
        encoding="utf-8",
    )
    browser.forget()
    browser.open(file.as_uri())
    assert browser.run("document.title") != "owned"
    assert "Content Security Policy" in str(browser.said())
    assert '<button type="button">level</button>' in browser.run("document.body.innerHTML")


@needs_pdftoppm
@pytest.mark.parametrize("kind", family(KINDS, ["comparison"]))
def test_printed_from_a_dark_screen_it_is_light_and_fills_its_sheets(
    browser, pages, reports, tmp_path, kind
):
    file = tmp_path / "report.html"
    file.write_text(pages[kind], encoding="utf-8")
    printed = tmp_path / "report.pdf"
    browser.darkness(True)
    browser.open(file.as_uri())
    browser.printed(printed)
    browser.darkness(False)
    subprocess.run(
        ["pdftoppm", "-r", "40", "-gray", "-png", printed, tmp_path / "page"], check=True
    )
    sheets = [Image.open(path).convert("L") for path in sorted(tmp_path.glob("page-*.png"))]
    assert 2 <= len(sheets) <= 16
    for sheet in sheets:
        # A4, and paper white along every edge: nothing runs off the sheet or over its end.
        assert sheet.height / sheet.width == pytest.approx(297 / 210, abs=0.01)
        width, height = sheet.size
        for edge in (
            (0, 0, width, 12), (0, height - 12, width, height), (0, 0, 10, height),
            (width - 10, 0, width, height),
        ):  # fmt: skip
            darkest, _ = sheet.crop(edge).getextrema()
            assert darkest >= 250
    for sheet in sheets[:-2]:
        _, _, _, lowest = sheet.point(lambda tone: 255 * (tone < 200)).getbbox()
        assert lowest > 0.5 * sheet.height
    lines = [page.extract_text().splitlines() for page in PdfReader(printed).pages]
    blocks = [block for section in reports[kind].sections for block in section.blocks]
    cases = [label for block in blocks if isinstance(block, Switch) for label, _ in block.cases]
    headings = {*cases, *(section.heading for section in reports[kind].sections)}
    assert not headings & {page[-1].strip() for page in lines}
    if kind == "analysis":
        heads = [
            page for page in lines if any("ΔE00" in line and "density" in line for line in page)
        ]
        assert len(heads) >= 2
