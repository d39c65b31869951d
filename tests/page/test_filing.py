"""A reading is filed under the sheet that it is of, by what it says of itself."""

from __future__ import annotations

import errno
import shutil
from dataclasses import replace

import numpy as np
import pytest
from support.page import client_of, commands_in

import greyscale
from greyscale.charts.chart import make_chart
from greyscale.demo.printer import demo_printer
from greyscale.page.papers import paper_of, papers
from greyscale.page.state import evidence, shown_of, state_of
from greyscale.page.views.hall import of_hall
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import write_layout

KEY = "cotton rag"


@pytest.fixture(scope="module")
def charts(tmp_path_factory):
    """Two charts of the same tones in other orders, and the printer's readings of them."""
    root = tmp_path_factory.mktemp("prints")
    folder = root / KEY
    folder.mkdir()
    readings = {}
    for number in (1, 2):
        stem = f"chart-{number}"
        layout = make_chart(stem, tones=17, seed=number, code=False).layout
        write_layout(layout, folder / f"{stem}.txt")
        readings[stem] = demo_printer(KEY).measure(
            layout.ids, layout.device, places=layout.places, name="export", seed=number
        )
    return root, readings


def filed(root):
    return {
        sheet.stem: [one.name for one in sheet.readings] for sheet in paper_of(root, KEY).sheets
    }


def send(client, tmp_path, reading, **fields):
    write(reading, tmp_path / "Export 7.txt")
    with (tmp_path / "Export 7.txt").open("rb") as file:
        files = {"file": ("Export 7.txt", file)}
        return client.post(f"/paper/{KEY}/add", files=files, data=fields or None)


def test_by_its_device_values(charts, tmp_path):
    root, readings = charts
    client = client_of(root)
    assert state_of(paper_of(root, KEY)).step == "reading"
    answer = send(client, tmp_path, readings["chart-2"])
    assert answer.headers["location"] == "/paper/cotton%20rag?show=chart-2-reading.txt"
    assert filed(root) == {"chart-1": [], "chart-2": ["chart-2-reading.txt"]}
    assert state_of(paper_of(root, KEY)).step == "correct"


def test_not_under_a_sheet_that_it_is_not_of(charts, tmp_path):
    root, readings = charts
    before = sorted(root.rglob("*"))
    answer = send(client_of(root), tmp_path, readings["chart-2"], sheet="chart-1")
    assert answer.status_code == 422
    assert "is not a reading of “chart-1”" in answer.text
    assert sorted(root.rglob("*")) == before


def test_where_a_disk_has_no_links(charts, tmp_path, monkeypatch):
    """The folder that is locked for it is not waited for."""

    def refuse(*_, **__):
        raise OSError(errno.EPERM, "no links here")

    root = shutil.copytree(charts[0], tmp_path / "prints")
    monkeypatch.setattr("os.link", refuse)
    monkeypatch.setattr("greyscale.base.files.PATIENCE", 0.0)
    assert send(client_of(root), tmp_path, charts[1]["chart-1"]).status_code == 303
    assert filed(root)["chart-1"] == ["chart-1-reading.txt"]


def test_without_device_values_it_is_completed_from_its_layout(charts, tmp_path):
    """As many instruments export: nothing but an id and L*, a*, b*."""
    root, readings = charts
    reading = readings["chart-1"]
    rows = [
        f"{name},{L:.3f},{a:.3f},{b:.3f}"
        for name, (L, a, b) in zip(reading.ids, reading.lab, strict=True)
    ]
    client = client_of(root)
    files = {"file": ("bare.csv", "\n".join(["SAMPLE_ID,LAB_L,LAB_A,LAB_B", *rows]))}
    answer = client.post(f"/paper/{KEY}/add", files=files, data={"sheet": "chart-1"})
    assert answer.headers["location"].endswith("?show=chart-1-reading-complete.txt")
    (job,) = client.app.app.state.jobs.of(root / KEY)
    assert job.done.wait(240)
    assert job.command == (
        "greyscale check chart-1-reading.csv --layout chart-1.txt "
        "--repaired chart-1-reading-complete.txt"
    )
    completed = greyscale.read(root / KEY / "chart-1-reading-complete.txt")
    layout = greyscale.read_layout(root / KEY / "chart-1.txt")
    assert np.allclose(completed.device, layout.device, atol=1e-6)
    assert filed(root)["chart-1"] == ["chart-1-reading.csv", "chart-1-reading-complete.txt"]
    text = client.get(f"/paper/{KEY}?show=chart-1-reading.csv").text
    typed = "greyscale analyse chart-1-reading.csv --layout chart-1.txt"
    assert typed in commands_in(text)


def test_a_damaged_picture_is_refused_and_not_kept(charts):
    root, _ = charts
    before = sorted(root.rglob("*"))
    files = {"file": ("fog.tif", b"II*\0" + bytes(30))}
    answer = client_of(root).post(f"/paper/{KEY}/add", files=files)
    assert answer.status_code == 422
    assert "fog.tif: holds no pages" in answer.text
    assert sorted(root.rglob("*")) == before


def test_readings_of_several_papers_in_one_folder_are_told_apart(tmp_path):
    device = np.repeat(np.linspace(0, 1, 9)[:, np.newaxis], 3, axis=1)
    ids = [str(number) for number in range(9)]
    for paper in ("cotton rag", "baryta"):
        reading = demo_printer(paper).measure(ids, device, name=paper)
        write(replace(reading, paper=paper), tmp_path / f"{paper}.txt")
    assert sorted(one.name for one in papers(tmp_path)) == ["baryta", "cotton rag"]
    assert all(len(one.loose) == 1 for one in papers(tmp_path))


def test_a_folder_of_a_report_or_a_correction_is_no_paper(tmp_path):
    for name, file in (("report", "report.html"), ("made", "correction.json")):
        (tmp_path / name).mkdir()
        (tmp_path / name / file).write_text("{}")
    assert papers(tmp_path) == ()


def test_one_chart_on_two_papers_and_in_two_conditions(tmp_path):
    """Each paper has its own readings of it; M1 is shown, and M2 is evidence beside it."""
    layout = make_chart("chart", tones=17, code=False).layout
    write_layout(layout, tmp_path / "chart.txt")
    for paper in ("cotton rag", "baryta"):
        for condition in ("M1", "M2"):
            reading = demo_printer(paper).measure(
                layout.ids, layout.device, name=f"{paper}, {condition}", condition=condition
            )
            write(reading, tmp_path / f"{paper}-{condition}.txt")
    found = {paper.name: paper for paper in papers(tmp_path)}
    assert set(found) == {"cotton rag", "baryta"}
    for name, paper in found.items():
        both = [f"{name}-M1.txt", f"{name}-M2.txt"]
        assert [one.name for one in evidence(paper)] == both
        assert [one.name for one in of_hall(paper)] == both
        assert state_of(paper).step == "correct"
        assert shown_of(paper, None).measured.name == both[0]
    text = client_of(tmp_path).get("/paper/~baryta").text
    assert "greyscale analyse baryta-M1.txt baryta-M2.txt" in commands_in(text)
    assert "cannot be told" not in text
