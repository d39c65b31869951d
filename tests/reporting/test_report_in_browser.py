"""The report in a browser: phone and desk, light and dark, printed; without script or request."""

import base64
import html
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from PIL import Image

from greyscale.reporting.analysis_page import analysis_page

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(BROWSER is None, reason="no chromium or chromium-browser on PATH")

PHONE, DESK = 390, 1200

# A browser's window is never as narrow as a phone, a frame is. The page in it is a copy whose
# policy lets scripts run: hostile ones would, too.
FRAME = """<!doctype html>
<iframe id="frame" width="{width}" height="800" style="border: 0" srcdoc="{page}"></iframe>
<script>
document.getElementById("frame").addEventListener("load", event => {{
  const view = event.target.contentWindow, page = view.document;
  const style = element => view.getComputedStyle(element);
  const shown = [...page.images].filter(image => style(image).display !== "none");
  const words = page.querySelectorAll("p, td, dd, dt, li, figcaption");
  document.documentElement.dataset.probe = btoa(JSON.stringify({{
    width: view.innerWidth,
    scroll: page.documentElement.scrollWidth,
    owned: page.title === "owned",
    ground: style(page.body).backgroundColor,
    shown: shown.map(image => image.className),
    broken: shown.filter(image => !image.complete || !image.naturalWidth).length,
    smallest: Math.min(...[...words].map(word => parseFloat(style(word).fontSize))),
    requests: view.performance.getEntriesByType("resource").map(entry => entry.name),
  }}));
}});
</script>
"""


def browse(page: Path, *options: str, dark: bool = False) -> subprocess.CompletedProcess[str]:
    """Open a page in the browser, cut off from every network."""
    return subprocess.run(
        [
            BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
            "--disable-background-networking", "--host-resolver-rules=MAP * ~NOTFOUND",
            "--proxy-server=127.0.0.1:9", f"--user-data-dir={page.parent / 'profile'}",
            "--enable-logging=stderr",
            f"--blink-settings=preferredColorScheme={0 if dark else 1}",
            *options, page.as_uri(),
        ],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip


def probe(text: str, folder: Path, width: int, dark: bool = False) -> tuple[dict, list[str]]:
    """Look at a page with scripts let run: what the probe found, and the console's messages."""
    opened, count = re.subn(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
    assert count == 1
    page = folder / "probe.html"
    page.write_text(FRAME.format(width=width, page=html.escape(opened)), encoding="utf-8")
    result = browse(page, "--window-size=1400,900", "--dump-dom", dark=dark)
    found = re.search(r'data-probe="([^"]*)"', result.stdout)
    console = [line for line in result.stderr.splitlines() if ":CONSOLE" in line]
    return json.loads(base64.b64decode(found[1])), console


@pytest.fixture(scope="module")
def page(analysis):
    return analysis_page([analysis], [""], "greyscale analyse harbour.txt -o folder")[0]


@pytest.fixture(scope="module")
def hostile_page(hostile_analysis):
    return analysis_page([hostile_analysis], [""], "greyscale analyse '<script>'")[0]


@pytest.mark.parametrize(("width", "dark"), [(PHONE, False), (PHONE, True), (DESK, True)])
def test_it_fits_its_screen_and_asks_for_nothing(page, tmp_path, width, dark):
    seen, console = probe(page, tmp_path, width, dark)
    assert seen["width"] == width
    assert seen["scroll"] <= width
    assert seen["requests"] == []
    assert console == []
    name = ("dark" if dark else "light") + ("-narrow" if width == PHONE else "")
    assert set(seen["shown"]) == {name}
    assert len(seen["shown"]) == 5
    assert seen["broken"] == 0
    assert seen["smallest"] >= 12
    assert seen["ground"] == ("rgb(28, 28, 28)" if dark else "rgb(255, 255, 255)")


def test_hostile_names_run_nothing_fetch_nothing_and_do_not_widen_it(hostile_page, tmp_path):
    seen, console = probe(hostile_page, tmp_path, PHONE)
    assert not seen["owned"]
    assert seen["requests"] == []
    assert seen["scroll"] <= PHONE
    assert seen["broken"] == 0
    assert console == []


def test_the_probe_would_notice(page, tmp_path):
    """The tests above can fail: a page with a script, a request and a wide table is found out."""
    bad = page.replace(
        "</main>",
        "<script>document.title = 'owned'; console.error('oh')</script>"
        "<img src='http://example.test/x.png'><div style='width: 900px'>wide</div></main>",
    )
    seen, console = probe(bad, tmp_path, PHONE)
    assert seen["owned"]
    assert seen["requests"] == ["http://example.test/x.png"]
    assert seen["scroll"] > PHONE
    assert console


def test_the_pages_policy_stops_scripts_by_itself(page, tmp_path):
    file = tmp_path / "report.html"
    file.write_text(
        page.replace("</main>", "<script>document.title = 'owned'</script></main>"),
        encoding="utf-8",
    )
    result = browse(file, "--dump-dom")
    assert "<title>owned" not in result.stdout
    assert "Content Security Policy" in result.stderr


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no pdftoppm on PATH")
def test_printed_from_a_dark_screen_it_is_light_and_no_figure_is_cut(page, tmp_path):
    file = tmp_path / "report.html"
    file.write_text(page, encoding="utf-8")
    printed = tmp_path / "report.pdf"
    browse(file, "--no-pdf-header-footer", f"--print-to-pdf={printed}", dark=True)
    subprocess.run(
        ["pdftoppm", "-r", "40", "-gray", "-png", printed, tmp_path / "page"], check=True
    )
    sheets = [Image.open(path).convert("L") for path in sorted(tmp_path.glob("page-*.png"))]
    assert 4 <= len(sheets) <= 8
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
