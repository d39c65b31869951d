"""`greyscale read` as a person uses it, line by line."""

from __future__ import annotations

import numpy as np
import pytest
from support.invoked import invoke, refused, said

from greyscale.base.errors import BadInput
from greyscale.checks.typing_in import by_hand
from greyscale.correction.folder import read_correction
from greyscale.readings.formats import read
from greyscale.readings.layout import Layout, read_layout, write_layout

GREYS = {"A1": 0.0, "A2": 0.5, "B1": 0.25, "B2": 1.0}


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "chart.txt"
    device = [[level] * 3 for level in GREYS.values()]
    write_layout(Layout("chart", ("1", "2", "3", "4"), tuple(GREYS), np.array(device)), path)
    return path


def typing(layout, *lines, options=()):
    typed, target = "".join(f"{one}\n" for one in lines), layout.with_name("typed.txt")
    return invoke("read", layout, "-o", target, *options, typed=typed).stdout


def test_a_chart_is_typed_in_with_a_slip_and_a_step_back(layout):
    said = typing(
        layout,
        "16,1 0,3 -0,2",  # A1
        "55 0.2 1,1",  # A2
        "b",
        "54 0.2 1.1",  # A2 again, then up the next strip: B2
        "9.62 0.5 -1.8",  # The point is in the wrong place.
        "96.2 0.5 -1.8",
        "thirty 1 2",
        "35.1 0.4",
        "35.1 0.4 0.3",  # B1
        options=("--condition", "M1", "--paper", "cotton rag"),
    )
    assert "level 1.00 can't be darker than 0.50 (A2, L* 54.0): again?" in said
    assert "'thirty' is not a number" in said
    assert "2 numbers, not 3" in said
    assert "The reading is" in said
    found = read(layout.with_name("typed.txt"))
    assert (found.condition, found.paper) == ("M1", "cotton rag")
    by_place = dict(zip(found.places, found.lab.tolist(), strict=True))
    assert by_place == {
        "A1": [16.1, 0.3, -0.2],
        "A2": [54.0, 0.2, 1.1],
        "B1": [35.1, 0.4, 0.3],
        "B2": [96.2, 0.5, -1.8],
    }


def test_it_is_saved_after_each_patch_and_goes_on(layout):
    assert "2 of 4 patches are in" in typing(layout, "16 0 0", "54 0 1", options=("--paper", "rag"))
    assert len(read(layout.with_name("typed.txt"))) == 2
    said = typing(layout, "s", "35 0 1", "q")
    assert "4 patches, 2 to go" in said
    assert "3 of 4 patches are in" in said
    typing(layout, "96 0 -1")
    found = read(layout.with_name("typed.txt"))
    assert (len(found), found.paper) == (4, "rag")
    assert "All 4 patches are in" in typing(layout)


def test_what_seems_wrong_and_is_true_is_kept(layout):
    said = typing(layout, "16 0 0", "54 0 1", "50 0 0", "", "q")
    assert said.count("again?") == 1
    assert read(layout.with_name("typed.txt")).lab[-1].tolist() == [50.0, 0.0, 0.0]


def test_nothing_typed_writes_nothing_and_other_files_stay(layout):
    target = layout.with_name("typed.txt")
    assert "nothing is written" in typing(layout, "q")
    assert not target.exists()
    target.write_text("my notes\n")
    with pytest.raises(BadInput, match="greyscale did not write this file"):
        typing(layout, "16 0 0")
    assert target.read_text() == "my notes\n"


@pytest.mark.parametrize("values", ["lightness", "density"])
def test_tone_alone_rights_the_tone_scale_and_says_that_it_tells_no_tint(
    tmp_path, monkeypatch, values
):
    """Density by its definition, -lg(Y/100) (ISO 5-3), of the Y that L* is of by CIE 15."""
    monkeypatch.chdir(tmp_path)
    options = {"-o": "c", "--tones": "17", "--repeats": "0", "--dpi": "72"}
    words = ["chart", "--no-code", *(word for pair in options.items() for word in pair)]
    invoke(*words, code=0)
    levels = read_layout("c.txt").device[list(by_hand(read_layout("c.txt")))].mean(axis=1)
    L = 16 + 80 * levels**0.9
    Y = 100 * np.where(L > 8, ((L + 16) / 116) ** 3, L / 903.3)
    shown = L if values == "lightness" else -np.log10(Y / 100)
    lines = "".join(f"{one:.4f}\n" for one in shown)
    done = invoke("read", "c.txt", "-o", "t.txt", "--values", values, typed=lines)
    assert "The reading is t.txt" in done.stdout
    found = read("t.txt")
    assert found.tone_alone
    assert found.lab[np.argsort(found.level), 0] == pytest.approx(np.sort(L), abs=0.02)
    made = said("correct", "t.txt", "-o", "made")
    assert "what tint the print has is not known" in made
    assert "L* departs from the lstar aim" in made
    assert read_correction("made").tone_only
    assert "holds tone alone" in refused("analyse", "t.txt")
    assert "was begun with" in refused("read", "c.txt", "-o", "t.txt")


def test_densities_that_were_zeroed_on_the_paper_are_remarked_on(tmp_path):
    path = tmp_path / "zeroed.csv"
    path.write_text(
        "Level;D\n" + "".join(f"{k / 12};{1.7 - 1.7 * k / 12:.2f}\n" for k in range(13))
    )
    for command in (["check", path], ["correct", path, "-o", tmp_path / "made"]):
        told = invoke(*command).stdout
        assert "it looks zeroed on the paper" in " ".join(told.split())
