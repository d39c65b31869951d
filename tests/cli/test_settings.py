"""`greyscale settings` and its strips: simulated settings of which it is known which is better."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from support.invoked import invoke, refused
from support.odd_printers import odd_printer

from greyscale.base.errors import BadInput
from greyscale.charts.chart import settings_strips
from greyscale.correction.settings import choose_settings
from greyscale.demo.printer import demo_printer
from greyscale.readings.layout import read_layout
from greyscale.readings.reading import Reading
from greyscale.reporting.settings_report import settings_data, settings_sentences

STRIP = settings_strips("sheet", 2, dpi=72).layouts[0]
BARYTA = demo_printer("baryta")


def lighter(device):
    """Four fifths of the ink at most: Dmax falls, and nothing else is wrong."""
    return BARYTA.lab(1 - 0.8 * (1 - np.asarray(device)))


def strip_of(name, lab, seed=1) -> Reading:
    """Read a strip on BARYTA's paper, whatever printed it."""
    device, paper = STRIP.device, BARYTA.lab(np.ones((1, 3)))
    measured = lab(device)
    measured = measured + (paper - lab(np.ones((1, 3)))) * measured[:, :1] / 100
    noise = np.random.default_rng(seed).normal(0.0, 0.12, device.shape)
    return Reading(name, f"{name}.txt", STRIP.ids, device, measured + noise, condition="M1")


@pytest.mark.parametrize(
    ("worse", "why"),
    [
        (lighter, "Dmax"),
        (odd_printer("over-inked", 4).lab, "no reversal"),
        (odd_printer("grey mode", 0).lab, "a mean ΔCh of"),
    ],
)
def test_the_better_setting_is_named_with_its_reason(worse, why):
    found = choose_settings([strip_of("odd", worse), strip_of("heavy", BARYTA.lab)])
    first = settings_sentences(found)[0]
    assert first.startswith("Take heavy rather than odd: ")
    assert why in first
    data = settings_data(found)
    assert data["schema"] == "greyscale/settings/1"
    assert [one["rank"] for one in data["settings"]] == [1, 2]


@pytest.mark.parametrize(
    ("what", "one", "other"),
    [("condition", "M1", "M2"), ("backing", "white", "black"), ("observer", "2", "10")],
)
def test_strips_that_were_measured_otherwise_are_not_ranked(what, one, other):
    """What a strip does not say is no difference."""
    strips = [replace(strip_of(said, BARYTA.lab), **{what: said}) for said in (one, other)]
    with pytest.raises(BadInput, match=f"of different {what}") as found:
        choose_settings(strips)
    assert one in str(found.value)
    assert other in str(found.value)
    if what != "observer":
        assert len(choose_settings([strips[0], replace(strips[1], **{what: None})]).settings) == 2


def test_the_same_setting_read_twice_is_a_tie():
    found = choose_settings([strip_of("one", BARYTA.lab, 1), strip_of("two", BARYTA.lab, 2)])
    assert [one.rank for one in found.settings] == [1, 1]
    assert "equally good" in settings_sentences(found)[0]


def test_strips_of_one_sheet_lie_apart_and_hold_the_same_patches():
    made = settings_strips("sheet", 4, dpi=72)
    tops = [[box.top for box, _ in page.boxes] for page in made.pages]
    first = [min(tops[0]), *(min(rows) for rows in tops[1:])]
    assert first == sorted(first)
    for before, after in zip(made.pages[1:], made.pages[2:], strict=False):
        assert max(box.bottom for box, _ in before.boxes) < min(box.top for box, _ in after.boxes)
    for layout in made.layouts:
        np.testing.assert_array_equal(layout.device, made.layouts[0].device)
    places = [place for layout in made.layouts for place in layout.places]
    assert len(set(places)) == len(places)


def test_strips_are_written_and_their_readings_ranked(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    invoke("chart", "--settings", 2, "-o", "sheet", "--dpi", 72, code=0)
    assert {path.name for path in tmp_path.iterdir()} == {
        "sheet-1.tif", "sheet-2.tif", "sheet.pdf", "sheet-1.txt", "sheet-2.txt",
    }  # fmt: skip
    layout = read_layout("sheet-1.txt")
    for name, lab in (("heavy", BARYTA.lab), ("light", lighter)):
        rows = np.column_stack([255 * layout.device, lab(layout.device)])
        lines = [f"{i},{','.join(f'{x:.3f}' for x in r)}" for i, r in zip(layout.ids, rows,
                                                                         strict=True)]  # fmt: skip
        head = "SAMPLE_ID,RGB_R,RGB_G,RGB_B,LAB_L,LAB_A,LAB_B"
        Path(f"{name}.csv").write_text("\n".join([head, *lines]), encoding="utf-8")
    words = ("light.csv", "heavy.csv", "--json", "found.json", "-o", "report")
    invoke("settings", *words, code=0)
    found = json.loads(Path("found.json").read_text(encoding="utf-8"))
    assert [one["name"] for one in found["settings"]] == ["heavy", "light"]
    assert Path("report/report.html").is_file()
    assert Path("report/figures/settings-tones.png").is_file()
    refused("settings", "heavy.csv")


def test_strips_that_have_near_neutral_patches_are_not_asked_for_again():
    """A heavy setting prints many of them as dark as black; the rest tell. Without any, none do."""
    heavy = strip_of("heavy", lambda device: BARYTA.lab(np.asarray(device) ** 2.8))
    dark = heavy.lab[:, 0] < heavy.lab[:, 0].min() + 0.1 * np.ptp(heavy.lab[:, 0])
    assert 6 <= np.sum(~heavy.on_axis & ~dark) < 12
    usual = strip_of("usual", BARYTA.lab)
    found = choose_settings([heavy, usual])
    assert {one.analysis.response.kind for one in found.settings} == {"colour"}
    assert not any("greyscale chart --settings" in text for text in found.remarks)
    ramps = [one.select(np.flatnonzero(one.on_axis)) for one in (heavy, usual)]
    assert any("greyscale chart --settings" in text for text in choose_settings(ramps).remarks)
    black = strip_of("black", lambda device: BARYTA.lab(np.asarray(device) ** 8))
    (remark,) = [one for one in choose_settings([black, usual]).remarks if "black" in one]
    assert "too much ink" in remark
