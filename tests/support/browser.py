"""Opening pages in a real browser, cut off from every network, and looking at what it shows."""

from __future__ import annotations

import base64
import html
import json
import re
import shutil
import subprocess
from importlib.util import find_spec
from pathlib import Path

import pytest

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
needs_browser = pytest.mark.skipif(
    BROWSER is None, reason="no chromium or chromium-browser on PATH"
)
needs_pdftoppm = pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no pdftoppm on PATH")

# A browser's window is never as narrow as a phone, a frame is.
_FRAME = '<iframe width="{width}" height="800" style="border: 0" srcdoc="{page}"></iframe>'

# The pages in the frames are copies whose policy lets scripts run: hostile ones would, too.
_PROBE = """<!doctype html><title>probe</title>{frames}
<script>
const axeSource = {axe_source};
async function look(frame) {{
  const view = frame.contentWindow, page = view.document;
  const style = element => view.getComputedStyle(element);
  const shown = [...page.querySelectorAll("figure svg")].filter(
    figure => style(figure).display !== "none" && figure.checkVisibility());
  const words = page.querySelectorAll("p, td, dd, dt, li, figcaption");
  const seen = {{
    width: view.innerWidth,
    scroll: page.documentElement.scrollWidth,
    title: page.title,
    ground: style(page.body).backgroundColor,
    shown: shown.map(figure => figure.getAttribute("class")),
    empty: shown.filter(figure => !figure.getBBox().width).length,
    smallest: Math.min(...[...words].map(word => parseFloat(style(word).fontSize))),
    requests: view.performance.getEntriesByType("resource").map(entry => entry.name),
    violations: null,
    said: page.documentElement.dataset.said ?? null,
  }};
  if (view.innerWidth <= {accessibility}) {{
    // Only the names of figures matter here; to walk all their lines would take its time.
    page.querySelectorAll("svg > *").forEach(part => part.remove());
    view.eval(axeSource);
    const result = await view.axe.run(page, {{ resultTypes: ["violations"] }});
    seen.violations = result.violations.map(
      one => `${{one.id}}: ${{one.nodes[0].html.slice(0, 200)}} ${{one.nodes[0].failureSummary}}`);
  }}
  return seen;
}}
addEventListener("load", async () => {{
  const seen = [];
  for (const frame of document.querySelectorAll("iframe")) seen.push(await look(frame));
  const text = new TextEncoder().encode(JSON.stringify(seen));
  document.documentElement.dataset.probe = btoa(String.fromCharCode(...text));
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
        capture_output=True, text=True, timeout=180, check=True,
    )  # fmt: skip


def probe(
    pages: list[tuple[str, int]],
    folder: Path,
    *,
    dark: bool = False,
    accessibility: int = 0,
) -> tuple[list[dict], list[str]]:
    """Look at pages, each at a width, with scripts let run.

    Parameters
    ----------
    accessibility
        Up to which width it is checked, which takes long.

    Returns
    -------
    What was found on each, and the console's messages.
    """
    opened = []
    for text, width in pages:
        page, count = re.subn(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
        assert count == 1
        opened.append(_FRAME.format(width=width, page=html.escape(page)))
    source = axe_source() if accessibility else ""
    file = folder / "probe.html"
    file.write_text(
        _PROBE.format(
            frames="\n".join(opened),
            axe_source=json.dumps(source).replace("</", "<\\/"),
            accessibility=accessibility,
        ),
        encoding="utf-8",
    )
    options = ("--window-size=1400,900", "--dump-dom", "--virtual-time-budget=60000")
    result = browse(file, *options, dark=dark)
    found = re.search(r'data-probe="([^"]*)"', result.stdout)
    assert found, result.stderr
    console = [line for line in result.stderr.splitlines() if ":CONSOLE" in line]
    return json.loads(base64.b64decode(found[1])), console


def axe_source() -> str:
    """Give the script of axe-core, which checks pages by WCAG; it comes with a package of PyPI."""
    spec = find_spec("axe_core_python")
    assert spec is not None
    return (Path(spec.origin).parent / "axe.min.js").read_text(encoding="utf-8")
