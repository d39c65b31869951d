"""The picture of the page in README, made anew from the demo's folder."""

from __future__ import annotations

import tempfile
from pathlib import Path

from support.browser import Chromium
from support.page import page_of

PAPER = "/paper/~cotton%20rag?show=reading.txt"
SIZE = (1280, 800)


def take(demo: Path, target: Path) -> None:
    """Open the demo's paper, point at the middle of its cast, and save what is seen."""
    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile,
        page_of(demo) as address,
        Chromium(Path(profile)) as browser,
    ):
        browser.size(*SIZE)
        browser.open(address)
        browser.open(address.split("/?")[0] + PAPER)
        browser.until("[data-later] .row")
        browser.point(".ramp .drawn", 0.41)
        browser.picture(target, whole=False)
