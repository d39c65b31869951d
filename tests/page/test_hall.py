"""Papers for a hall: what `compare` finds of the papers and lights that are ticked."""

from __future__ import annotations

import re

import pytest
from support.page import client_of, commands_in, measure

import greyscale


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    root = tmp_path_factory.mktemp("prints")
    for paper in ("cotton rag", "baryta", "kozo"):
        measure(root / paper / "ramp.txt", paper=paper)
    return client_of(root)


def test_it_ranks_as_the_command_does(client):
    root = client.app.app.state.root
    query = {"light": ["A", "LED-B3"], "weights": "LED-B3=2"}
    text = client.get("/hall", params=query).text
    ramps = [root / paper / "ramp.txt" for paper in ("baryta", "kozo", "cotton rag")]
    own = greyscale.compare(ramps, lights=("A", "LED-B3"), weights={"LED-B3": 2})
    rows = re.findall(r'<th scope="row" class="name">(.*?)</th><td>(.*?)</td>', text)
    scores = [f"{paper.score:.2f}" for paper in own.papers]
    assert [score for _, score in rows] == scores
    by_score = {f"{paper.score:.2f}": paper.source for paper in own.papers}
    assert all(f"{name}/ramp.txt" in by_score[score] for name, score in rows)
    (said,) = commands_in(text)
    assert said.startswith("greyscale compare ")
    assert "--weight LED-B3=2" in said


def test_only_ticked_papers_are_compared(client):
    text = client.get("/hall?paper=baryta&paper=cotton rag").text
    named = re.findall(r'<th scope="row" class="name">([^<]+)', text)
    # Under the lights, and beside the score.
    assert sorted(named) == ["baryta", "baryta", "cotton rag", "cotton rag"]
    alone = client.get("/hall?paper=baryta").text
    assert "two papers or more" in alone
    assert "<table>" not in alone


@pytest.mark.parametrize("light", ["/etc/passwd", "70%D65+30%/etc/passwd", "README.md", "no-light"])
def test_a_light_is_never_a_file(client, light, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "README.md").write_text("400,1\n500,1\n")
    for address in ("/hall", "/paper/baryta"):
        text = client.get(address, params={"light": light, "more": light}).text
        assert "root:" not in text
        assert "<table" not in text
