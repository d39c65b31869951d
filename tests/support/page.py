"""The page as tests meet it: served to a client without a network, or started as by a person."""

from __future__ import annotations

import html
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import numpy as np
from starlette.testclient import TestClient

from greyscale.demo.printer import demo_printer
from greyscale.page.app import create_app, kept
from greyscale.readings.iso28178 import write

PORT = 8765
TOKEN = "the-token-of-this-run"
HOME = f"http://127.0.0.1:{PORT}"


class Tab(TestClient):
    """A client whose every request is answered under the guard that the page is served under."""

    def request(self, *given, **named):
        with kept():
            return super().request(*given, **named)


def client_of(folder: Path, *, token: str = TOKEN, base: str = HOME) -> TestClient:
    """Make a tab of this run's browser: with the token, and from the page's own origin."""
    client = Tab(create_app(folder, TOKEN, PORT), base_url=base, follow_redirects=False)
    client.headers.update({"cookie": f"greyscale-{PORT}={token}", "origin": base})
    return client


def commands_in(page: str) -> list[str]:
    """The commands that a page shows, as they can be pasted."""
    found = re.findall("<code>(.*?)</code>", page, re.DOTALL)
    return [html.unescape(re.sub("</?span>", "", one)) for one in found]


def measure(target: Path, paper: str = "cotton rag", **changes) -> Path:
    """Write the reading of a plain ramp on the simulated printer."""
    device = np.repeat(np.linspace(0, 1, 17)[:, np.newaxis], 3, axis=1)
    ids = [str(number + 1) for number in range(17)]
    target.parent.mkdir(exist_ok=True)
    settings = {"name": target.stem, **changes}
    write(demo_printer(paper).measure(ids, device, **settings), target)
    return target


@contextmanager
def tab_of(address: str) -> Iterator[httpx.Client]:
    """Open the address that a started page said, as a browser does."""
    home, _, way_in = address.partition("/?")
    with httpx.Client(base_url=home, headers={"origin": home}, timeout=120) as tab:
        tab.get(f"/?{way_in}")
        yield tab


@contextmanager
def page_of(folder: Path) -> Iterator[str]:
    """Start `greyscale page` for a folder, and give the address that it says."""
    process = subprocess.Popen(
        [sys.executable, "-m", "greyscale", "page", str(folder), "--no-browser"],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        process.stdout.readline()
        yield process.stdout.readline().strip()
    finally:
        process.terminate()
        process.wait(120)
        process.stdout.close()
