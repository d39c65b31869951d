"""The print log of a folder is an index: made of the files that lie there, lost and made again."""

from __future__ import annotations

import shutil

import pytest
from support.invoked import invoke, refused
from support.page import client_of

import greyscale
from greyscale.charts.chart import Through, make_chart
from greyscale.correction.evidence import sent_to_printer
from greyscale.demo.printer import demo_printer
from greyscale.demo.workshop import strip_read_backwards
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import write_layout
from greyscale.records.find import find
from greyscale.records.print_log import open_log


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    """A paper with a chart, read once wrongly, its correction, and a proof of that."""
    root = tmp_path_factory.mktemp("prints")
    folder = root / "cotton rag"
    folder.mkdir()
    printer = demo_printer("cotton rag")

    def measured(chart, name, sent=None, seed=1):
        write_layout(chart.layout, folder / f"{chart.name}.txt")
        layout = chart.layout
        reading = printer.measure(
            layout.ids, layout.device, sent=sent, places=layout.places, name=name, seed=seed
        )
        write(reading, folder / f"{chart.name}-reading.txt")
        return reading

    reading = measured(make_chart("chart", tones=17, code=False), "chart")
    write(strip_read_backwards(reading, "A"), folder / "chart-reading-misread.txt")
    made = greyscale.correct(folder / "chart-reading.txt", name="Harbour light")
    greyscale.write_correction(made, folder / "correction-1")

    def apply(device):
        return sent_to_printer(device, made, made.bits)

    proof = make_chart("proof", tones=17, code=False, seed=5, through=Through(made.title, apply))
    measured(proof, "proof", apply(proof.layout.device), seed=2)
    return root


def entries(root):
    with open_log(root / "print-log.sqlite3") as log:
        return sorted((one.kind, one.name, one.paper, one.uid) for one in find(log))


def test_all_that_can_be_used_is_in_it_and_a_lost_one_is_made_anew(root):
    tab = client_of(root)
    assert "A log of all prints can be made from these files" in tab.get("/").text
    assert "4 added, 0 there already" in invoke("log", "gather", root).stdout
    first = entries(root)
    assert [(kind, paper) for kind, _, paper, _ in first] == [
        (kind, "cotton rag") for kind in ("correction", "reading", "reading", "verification")
    ]
    with open_log(root / "print-log.sqlite3") as log:
        stated = log.connection.execute("SELECT stated, through FROM readings").fetchall()
    assert {tuple(row) for row in stated} == {(1, None), (1, 1)}
    assert "0 added, 3 there already" in invoke("log", "gather", root).stdout
    assert "Bring it up to date" in tab.get("/").text
    (root / "print-log.sqlite3").unlink()
    (root / "cotton rag" / "proof-reading.txt").unlink()
    invoke("log", "gather", root)
    left = [one for one in first if one[0] != "verification" and not one[1].startswith("proof")]
    assert entries(root) == left


def test_an_empty_folder_has_none(tmp_path):
    assert "holds no reading and no correction" in refused("log", "gather", tmp_path)


def test_what_cannot_be_read_is_named(root, tmp_path):
    """A reading, a correction, a misread sheet; what greyscale wrote for other ends is not."""
    copy = tmp_path / "prints"
    shutil.copytree(root / "cotton rag", copy / "cotton rag")
    bad = copy / "baryta" / "cut.txt"
    bad.parent.mkdir()
    bad.write_bytes((copy / "cotton rag" / "chart-reading.txt").read_bytes()[:900])
    damaged = copy / "cotton rag" / "correction-0"
    damaged.mkdir()
    (damaged / "correction.json").write_text("{", encoding="utf-8")
    (copy / "glass.csv").write_text(
        "# greyscale glazing: behind.txt against bare.txt\nwavelength_nm,transmittance\n380,0.9\n",
        encoding="utf-8",
    )
    done = invoke("log", "gather", copy)
    assert "added, 0 there already" in done.stdout
    misread = copy / "cotton rag" / "chart-reading-misread.txt"
    assert done.stderr.splitlines() == [
        f"greyscale: passed over: {bad}: cannot be read",
        f"greyscale: passed over: {misread}: is misread; 'greyscale check' says how",
        f"greyscale: passed over: {damaged}: cannot be read",
    ]
    why = refused("log", "gather", bad.parent)
    assert "no correction that can be read" in why
    assert "cut.txt cannot be read" in why
