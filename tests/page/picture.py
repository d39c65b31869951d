"""The picture of the page in README, made anew from the demo's folder.

python -m tests.page.picture DEMO -o reports/example/page.png
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from support.devtools import Chromium
from support.page import page_of

PAPER = "/paper/~cotton%20rag?show=reading.txt"
SIZE = (1280, 800)


def main() -> None:
    """Open the demo's paper, point at the middle of its cast, and save what is seen."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("demo", type=Path)
    parser.add_argument("-o", dest="out", type=Path, required=True)
    given = parser.parse_args()
    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile,
        page_of(given.demo) as address,
        Chromium(Path(profile)) as browser,
    ):
        browser.size(*SIZE)
        browser.open(address)
        browser.open(address.split("/?")[0] + PAPER)
        browser.until("[data-later] .row")
        browser.point(".ramp .drawn", 0.41)
        browser.picture(given.out, whole=False)


if __name__ == "__main__":
    main()
