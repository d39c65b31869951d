"""`greyscale check` as it is run."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from support.invoked import invoke, refused
from support.misreading import backwards, chart_layout, late, strips_of, taken

from greyscale.base.errors import BadInput
from greyscale.demo.printer import demo_printer
from greyscale.readings import iso28178
from greyscale.readings.formats import read
from greyscale.readings.layout import write_layout

LAYOUT = chart_layout(3)
STRIPS = strips_of(LAYOUT)
CLEAN = demo_printer().measure(LAYOUT.ids, LAYOUT.device, places=LAYOUT.places, name="cotton rag")


def run(*arguments: object) -> tuple[int, str]:
    result = invoke("check", *arguments)
    return result.exit_code, result.output


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_layout(LAYOUT, tmp_path / "layout.txt")
    rows = backwards(CLEAN, STRIPS[2])
    two = late(rows.reading, STRIPS[6])
    iso28178.write(taken(CLEAN, np.arange(len(CLEAN))).reading, tmp_path / "clean.txt")
    iso28178.write(two.reading, tmp_path / "misread.txt")
    return tmp_path


def test_a_clean_reading_ends_with_0_and_writes_nothing(folder: Path) -> None:
    repaired = folder / "repaired.txt"
    code, output = run(
        folder / "clean.txt", "--layout", folder / "layout.txt", "--repaired", repaired
    )
    assert code == 0
    assert "nothing found" in output
    assert not repaired.exists()


def test_a_misread_one_ends_with_1_and_says_where_how_sure_and_what_to_do(folder: Path) -> None:
    code, output = run(folder / "misread.txt", "--layout", folder / "layout.txt")
    assert code == 1
    text = " ".join(output.split())
    assert "certainly misread (2 findings)" in text
    assert "Strip C: strip read backwards (certain)" in text
    assert f"{LAYOUT.places[STRIPS[6][-1]]} was not measured." in text
    assert "read strip G again" in text
    # Texts and tables are padded on the way; no line that comes out is.
    assert [line for line in output.splitlines() if line.endswith(" ")] == []
    # Nothing was written yet that could be taken.
    assert "Take the repaired reading" not in text
    misread, layout, right = (folder / name for name in ("misread.txt", "layout.txt", "right.txt"))
    wanted = f"greyscale check {misread} --layout {layout} --repaired my-reading.txt"
    assert output.rstrip().endswith(wanted)
    _, output = run(misread, "--layout", layout, "--repaired", right)
    assert output.rstrip().endswith(f"greyscale analyse {right}")


def test_the_repaired_reading_holds_measured_values_under_their_own_patches(folder: Path) -> None:
    repaired = folder / "repaired.txt"
    run(folder / "misread.txt", "--layout", folder / "layout.txt", "--repaired", repaired)
    right, lost = read(repaired), STRIPS[6][-1]
    kept = np.delete(np.arange(len(CLEAN)), lost)
    assert right.ids == tuple(LAYOUT.ids[index] for index in kept)
    np.testing.assert_allclose(right.lab, CLEAN.lab[kept], atol=2e-4)
    np.testing.assert_allclose(right.device, LAYOUT.device[kept], atol=1e-8)
    code, output = run(repaired, "--layout", folder / "layout.txt")
    assert code == 1
    assert "patch missing (certain)" in output


def test_json_on_standard_output_is_all_there_is(folder: Path) -> None:
    code, output = run(folder / "misread.txt", "--json", "-")
    data = json.loads(output)
    assert code == 1
    assert data["schema"] == "greyscale/check/1"
    assert data["certainly_misread"] is True
    assert [finding["where"] for finding in data["findings"]] == ["strip C", "strip G"]
    assert data["findings"][1]["lost"] == [LAYOUT.ids[STRIPS[6][-1]]]


def test_a_layout_that_does_not_fit_is_one_message(folder: Path) -> None:
    write_layout(chart_layout(4), folder / "other.txt")
    with pytest.raises(BadInput, match="does not fit the reading"):
        run(folder / "misread.txt", "--layout", folder / "other.txt")


@pytest.mark.parametrize("option", ["--repaired", "--json"])
def test_no_input_is_overwritten(folder: Path, option: str) -> None:
    before = (folder / "misread.txt").read_bytes()
    with pytest.raises(BadInput, match="this is an input"):
        run(folder / "misread.txt", option, folder / "misread.txt")
    assert (folder / "misread.txt").read_bytes() == before


@pytest.mark.parametrize("command", ["analyse {}", "chart --dpi 72 -o {}-next --after {}"])
def test_what_is_certainly_misread_is_refused_unless_told_otherwise(
    folder: Path, command: str
) -> None:
    path = str(folder / "misread.txt")
    arguments = [part.replace("{}", path) for part in command.split()]
    assert "certainly misread" in refused(*arguments)
    invoke(*arguments, "--unchecked", code=0)
