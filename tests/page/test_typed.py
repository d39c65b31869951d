"""A reading typed in on the page, as `greyscale read` takes it; the clock of a sheet that dries."""

from __future__ import annotations

import os
from datetime import datetime, timedelta

import numpy as np
import pytest
from support.invoked import invoke
from support.page import client_of, commands_in, page_of, tab_of

from greyscale.charts.chart import make_chart
from greyscale.demo.printer import demo_printer
from greyscale.page.papers import paper_of
from greyscale.page.state import ready_at, state_of
from greyscale.page.views import typed
from greyscale.readings.formats import read
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import Layout, write_layout

GREYS = {"A1": 0.0, "A2": 0.5, "B1": 0.25, "B2": 1.0}
VALUES = {"1": "16,1 0,3 -0,2", "2": "54 0.2 1.1", "4": "96.2 0.5 -1.8", "3": "35.1 0.4 0.3"}
"""By patch, in the order that spares the hand: A1, A2, B2, B1."""


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "cotton rag"
    folder.mkdir()
    device = np.repeat(np.array([*GREYS.values()])[:, np.newaxis], 3, axis=1)
    write_layout(
        Layout("chart-1", ("1", "2", "3", "4"), tuple(GREYS), device), folder / "chart-1.txt"
    )
    return folder


def test_typed_in_it_is_the_reading_that_the_command_makes(folder, monkeypatch):
    tab, here = client_of(folder.parent), "/paper/cotton rag/type/chart-1"
    page = tab.get(here).text
    assert "A1, level 0.00" in page
    assert "greyscale read chart-1.txt -o chart-1-typed.txt" in commands_in(page)
    assert "can&#39;t be darker than 0.00" not in page
    first, second, *rest = VALUES
    assert tab.post(here, data={"patch": first, "text": VALUES[first]}).status_code == 303
    assert "A2, level 0.50" in tab.get(here).text
    refused = tab.post(here, data={"patch": second, "text": "5.4 0.2 1.1"})
    assert refused.status_code == 422
    assert "level 0.50 can&#39;t be darker than 0.00 (A1, L* 16.1): again?" in refused.text
    assert "not a number" in tab.post(here, data={"patch": second, "text": "x 0 1"}).text
    # What is not whole yet belongs to its sheet, and is nobody's evidence.
    (sheet,) = paper_of(folder.parent, "cotton rag").sheets
    assert len(sheet.typing.reading) == 1
    assert "Go on typing it in: 1 of 4" in tab.get("/paper/cotton rag").text
    for patch in (second, *rest):
        assert tab.post(here, data={"patch": patch, "text": VALUES[patch]}).status_code == 303
    (sheet,) = paper_of(folder.parent, "cotton rag").sheets
    assert sheet.typing is None
    assert [one.name for one in sheet.readings] == ["chart-1-typed.txt"]
    monkeypatch.chdir(folder)
    lines = "".join(f"{one}\n" for one in VALUES.values())
    invoke("read", "chart-1.txt", "-o", "other.txt", typed=lines)
    made, own = read(folder / "chart-1-typed.txt"), read(folder / "other.txt")
    assert (made.ids, made.fields) == (own.ids, own.fields)
    assert np.array_equal(made.lab, own.lab)


def test_a_started_page_goes_on_with_what_was_typed_and_so_does_the_next(folder):
    """The folder that it is given is no input that it must keep."""
    here, whole = "/paper/cotton rag/type/chart-1", folder / "chart-1-typed.txt"
    first, last = [*VALUES.items()][:3], [*VALUES.items()][3:]
    begun = []
    for some in (first, last + first[:2]):
        with page_of(folder.parent) as address, tab_of(address) as tab:
            for patch, text in some:
                answer = tab.post(here, data={"patch": patch, "text": text})
                assert answer.status_code == 303, answer.text
                begun.append(whole.read_bytes())
    # What is whole stays; the sheet is begun anew beside it.
    assert begun[3] == begun[4] == begun[5]
    assert [len(read(folder / f"chart-1-typed{end}.txt")) for end in ("", "-2")] == [4, 2]
    lightness = dict(zip(read(whole).ids, read(whole).lab[:, 0].tolist(), strict=True))
    assert lightness == {"1": 16.1, "2": 54.0, "3": 35.1, "4": 96.2}


def test_what_is_no_reading_that_is_being_typed_is_never_replaced(folder, monkeypatch):
    """As where another program put a file there at that very moment."""
    monkeypatch.setattr(typed, "free_stem", lambda *_: "other")
    write_layout(make_chart("other", tones=13, code=False).layout, folder / "other.txt")
    before = (folder / "other.txt").read_bytes()
    answer = client_of(folder.parent).post(
        "/paper/cotton rag/type/chart-1", data={"patch": "1", "text": "16.25 0 0"}
    )
    assert answer.status_code == 422
    assert 'value="16.25 0 0"' in answer.text
    said = "cotton rag/other.txt: is there already; give another name"
    assert f">{said}</p>" in answer.text, answer.text
    assert (folder / "other.txt").read_bytes() == before


def test_what_can_hardly_be_and_is_true_is_kept(folder):
    tab, here = client_of(folder.parent), "/paper/cotton rag/type/chart-1"
    tab.post(here, data={"patch": "1", "text": "16", "values": "lightness"})
    doubted = {"patch": "2", "text": "5.4", "values": "lightness"}
    assert "again?" in tab.post(here, data=doubted).text
    assert tab.post(here, data={**doubted, "doubted": "5.4"}).status_code == 303
    found = read(folder / "chart-1-typed.txt")
    assert found.tone_alone
    assert found.lab[:, 0].tolist() == [16.0, 5.4]


def test_a_printed_sheet_waits_as_usual_and_then_is_dry(folder):
    tab = client_of(folder.parent)
    assert tab.post("/paper/cotton rag/printed", data={"sheet": "chart-1"}).status_code == 303
    paper = paper_of(folder.parent, "cotton rag")
    ready, own = ready_at(paper, paper.sheets[0])
    assert not own
    assert abs(ready - datetime.now() - timedelta(hours=24)) < timedelta(minutes=2)
    said = state_of(paper).words
    assert said.startswith("The chart “chart-1” is drying, and can be measured from ")
    assert said.endswith("by a day's wait, as usual.")
    assert f'data-ready="{ready.isoformat()}"' in tab.get("/paper/cotton rag").text
    early = (datetime.now() - timedelta(hours=25)).isoformat(timespec="minutes")
    (folder / "chart-1.printed").write_text(early)
    assert (
        state_of(paper_of(folder.parent, "cotton rag")).words
        == "The chart “chart-1” is dry: measure it."
    )
    tab.post("/paper/cotton rag/printed", data={"sheet": "chart-1", "off": "1"})
    assert not (folder / "chart-1.printed").exists()


def test_a_sheet_measured_at_several_times_tells_how_this_paper_dries(folder):
    """The simulated paper is within ΔE00 0.3 of its end after some two hours."""
    layout = make_chart("old", tones=13, code=False).layout
    write_layout(layout, folder / "old.txt")
    printed = datetime.now() - timedelta(days=3)
    (folder / "old.printed").write_text(printed.isoformat(timespec="minutes"))
    for number, hours in enumerate((0.2, 0.7, 1.5, 3.0, 6.0, 24.0)):
        reading = demo_printer("cotton rag").measure(
            layout.ids, layout.device, places=layout.places, name="old", noise=0.05, hours=hours,
            created=printed + timedelta(hours=hours),
        )  # fmt: skip
        write(reading, folder / f"old-reading-{number}.txt")
    (folder / "chart-1.printed").write_text(datetime.now().isoformat(timespec="minutes"))
    os.utime(folder / "chart-1.txt")
    paper = paper_of(folder.parent, "cotton rag")
    ready, own = ready_at(paper, next(one for one in paper.sheets if one.stem == "chart-1"))
    assert own
    assert timedelta(hours=1) < ready - datetime.now() < timedelta(hours=3.5)
