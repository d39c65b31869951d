"""What to do next with a paper, told from its files as the log's overview tells it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from support.corrections import correction_with, curve_against, printed
from support.page import client_of, measure

import greyscale
from greyscale.base.errors import BadInput
from greyscale.charts.chart import make_chart
from greyscale.correction.charts import chart_through
from greyscale.correction.evidence import check_reading
from greyscale.correction.folder import write_files
from greyscale.demo.printer import demo_printer
from greyscale.page import commands
from greyscale.page.papers import paper_of
from greyscale.page.state import state_of
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import write_layout


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "cotton rag").mkdir()
    return tmp_path / "cotton rag"


def state(folder):
    return state_of(paper_of(folder.parent, folder.name))


def test_nothing_then_a_chart_then_its_reading_then_a_correction(folder):
    assert state(folder).step == "chart"
    layout = make_chart("chart", tones=17, code=False).layout
    write_layout(layout, folder / "chart.txt")
    assert state(folder).step == "reading"
    assert state(folder).sheet.stem == "chart"
    reading = demo_printer().measure(layout.ids, layout.device, places=layout.places, name="x")
    write(reading, folder / "chart-reading.txt")
    assert state(folder).step == "correct"


def test_a_reading_that_lacks_its_last_patches_is_told_from_a_proof_by_its_layout(folder):
    """Its code alone would say that it was sent otherwise; each command is given the layout."""
    correction = correction_with(curve_against())
    for stem in ("chart", "proof"):
        if stem == "proof":
            (folder / "harbour").mkdir()
            write_files(correction, folder / "harbour", printed)
        through = chart_through(folder / "harbour") if stem == "proof" else None
        layout = make_chart(stem, tones=17, through=through).layout
        write_layout(layout, folder / f"{stem}.txt")
        sent = layout.device if through is None else correction.curve.apply(layout.device)
        reading = demo_printer().measure(layout.ids, sent, places=layout.places, name=stem)
        short = replace(reading, device=layout.device).select(range(len(reading) - 2))
        write(short, folder / f"{stem}-reading.txt")
        paper = paper_of(folder.parent, folder.name)
        (measured,) = paper.sheets[-1].readings
        title = None if through is None else correction.title
        check_reading(measured.reading, title)
        with pytest.raises(BadInput, match="patches at its end are missing"):
            check_reading(greyscale.read(measured.path), title)
        run = (
            commands.correct(paper, ())
            if through is None
            else commands.next_round(paper, measured, paper.corrections[-1])
        )
        assert " ".join(run.arguments).startswith(
            f"correct {stem}-reading.txt --layout {stem}.txt "
        )


@pytest.mark.parametrize(("days", "step"), [(0, "nothing"), (3000, "chart")])
def test_a_print_that_is_neutral_as_it_is_needs_none_until_it_is_looked_at_again(
    folder, days, step
):
    levels = np.linspace(0, 1, 17)
    L = 15 + 80 * levels
    rows = [
        f"{i},{v},{v},{v},{x},0,0" for i, (v, x) in enumerate(zip(255 * levels, L, strict=True))
    ]
    created = datetime.now() - timedelta(days=days)
    head = f'CREATED "{created.isoformat(timespec="seconds")}"'
    fields = "SAMPLE_ID RGB_R RGB_G RGB_B LAB_L LAB_A LAB_B"
    body = "\n".join(row.replace(",", " ") for row in rows)
    (folder / "ramp.txt").write_text(
        f"CGATS.17\n{head}\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\n"
        f"BEGIN_DATA\n{body}\nEND_DATA\n"
    )
    found = state(folder)
    assert found.step == step
    assert found.words.startswith("It prints neutral as it is, and needs no correction")


def test_a_correction_asks_for_its_proof(folder):
    correction = correction_with(curve_against())
    (folder / "harbour").mkdir()
    write_files(correction, folder / "harbour", printed)
    found = state(folder)
    assert found.step == "proof"
    assert found.words == f"“{correction.title}” is made, and not proved yet."


def test_a_proof_that_is_being_judged_is_waited_for_whatever_is_shown(folder, monkeypatch):
    correction = correction_with(curve_against())
    (folder / "harbour").mkdir()
    write_files(correction, folder / "harbour", printed)
    through = chart_through(folder / "harbour")
    layout = make_chart("proof", tones=17, code=False, through=through).layout
    write_layout(layout, folder / "proof.txt")
    reading = demo_printer().measure(layout.ids, layout.device, places=layout.places, name="x")
    write(replace(reading, sent_through=correction.title), folder / "proof-reading.txt")
    measure(folder / "ramp.txt")
    monkeypatch.setattr("greyscale.page.state.verified", lambda *_: None)
    assert state(folder).step == "judging"
    page = client_of(folder.parent).get("/paper/cotton rag?show=ramp.txt").text
    assert 'data-wait="/paper/cotton%20rag/judged?show=proof-reading.txt"' in page
