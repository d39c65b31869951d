"""The demo on the page: its folder is a studio, and `--page` opens it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from support.invoked import invoke
from support.page import client_of

from greyscale.demo import scenario
from greyscale.page import app as page_app


@pytest.mark.xdist_group("demo")
def test_its_folder_is_a_studio(job):
    client = client_of(job.folder)
    text = client.get("/").text
    papers = re.findall(r'<h2><a href="[^"]*">(.*?)</a>', text)
    assert papers == ["cotton rag", "baryta", "unbleached cotton"]
    assert text.count("mean ΔCh") == 3
    sheets = client.get("/paper/~cotton rag").text
    for name in ('first-reading.txt</a> <span class="meta">misread', "harbour-light-2"):
        assert name in " ".join(sheets.split())
    client.get("/paper/~cotton rag/judged?show=proof-reading.txt")
    proof = client.get("/paper/~cotton rag?show=proof-reading.txt").text
    assert "The correction worked: within the exhibition tolerance." in proof


def test_page_opens_what_was_made(monkeypatch, tmp_path):
    done: list[Path] = []
    monkeypatch.setattr(scenario, "run", lambda folder, **_: done.append(folder))
    monkeypatch.setattr(page_app, "serve", lambda folder, port, ready: done.append(folder))
    folder = tmp_path / "made"
    invoke("demo", "-o", folder, "--page", code=0)
    # The demo is made where it stands, the page opens what came into its place.
    assert done == [Path(), folder]
