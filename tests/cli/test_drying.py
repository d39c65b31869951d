"""`greyscale drying` as it is run."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from support.invoked import invoke
from support.misreading import chart_layout

from greyscale.base.errors import BadInput
from greyscale.demo.printer import demo_printer
from greyscale.readings import iso28178

LAYOUT = chart_layout(1, 33, near_neutral=False)
HOURS = (0.2, 1.0, 3.0, 8.0, 24.0, 48.0)


def run(*arguments: object) -> str:
    return invoke("drying", *arguments, code=0).output


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("drying")
    printer = demo_printer("baryta")
    paths = []
    for index, hours in enumerate(HOURS):
        reading = printer.measure(
            LAYOUT.ids, LAYOUT.device, places=LAYOUT.places, hours=hours, seed=index,
            name=f"baryta {hours:g} h",
        )  # fmt: skip
        paths.append(folder / f"reading-{index}.txt")
        iso28178.write(reading, paths[-1])
    return paths


def stated(hours: tuple[float, ...]) -> str:
    return ",".join(map(str, hours))


def test_the_tones_if_asked_for_then_the_verdict_and_when(files: list[Path]) -> None:
    text = " ".join(run(*files, "--hours", stated(HOURS), "--verbose").split())
    assert "Dry: the reading made 2 days after printing can be trusted." in text
    assert "no tone is more than ΔE00 0.3 from its final state" in text
    assert "Every tone is within ΔE00 0.3 of its final state from" in text
    assert "6 readings from 12 min to 2 days after printing" in text
    assert "1.000" in text
    assert "0.000" in text


def test_early_readings_say_not_yet_known(files: list[Path]) -> None:
    text = " ".join(run(*files[:2], "--hours", stated(HOURS[:2])).split())
    assert "Not yet known whether the print was dry 1 h after printing." in text
    assert text.endswith("Let it dry longer, read it again, and give all the readings together.")


def test_one_file_given_twice_tells_nothing_of_since_when(files: list[Path]) -> None:
    twice = (files[0], files[0], "--hours", "1,2")
    text = " ".join(run(*twice).split())
    assert "Not yet known whether the print was dry 2 h after printing." in text
    assert "It was dry" not in text
    assert json.loads(run(*twice, "--json", "-"))["settled_hours"] is None


def test_json_has_every_tone_and_what_is_to_come(files: list[Path]) -> None:
    data = json.loads(run(*files, "--hours", stated(HOURS), "--json", "-"))
    assert data["schema"] == "greyscale/drying/1"
    assert data["trusted"] == "yes"
    assert [reading["hours"] for reading in data["readings"]] == list(HOURS)
    assert len(data["tones"]) == 33
    assert data["settled_hours"]["low"] < data["settled_hours"]["high"] < 24
    assert {"final_L", "final_b_sd", "change_density", "to_come_delta_E00"} <= set(data["tones"][0])
    assert data["fit"]["terms"] == 1


def test_of_a_change_that_has_hardly_slowed_the_least_is_said_and_no_end(tmp_path: Path) -> None:
    hours, printer = (1.0, 4.0, 12.0, 24.0, 48.0), demo_printer("baryta")
    paths = [tmp_path / f"{time:g}.txt" for time in hours]
    for path, time in zip(paths, hours, strict=True):
        reading = printer.measure(LAYOUT.ids, LAYOUT.device, hours=1000.0, seed=int(time))
        dark = (1 - LAYOUT.device.mean(axis=1))[:, None]
        lab = reading.lab + dark * [6.0 * np.exp(-time / 150.0), 0.0, 0.0]
        iso28178.write(replace(reading, spectra=None, lab=lab), path)
    given = (*paths, "--hours", stated(hours))
    text = " ".join(run(*given, "-o", tmp_path / "report").split())
    assert "the tone with most to go is still at least ΔE00" in text
    assert "When it is dry is not yet known, but not before" in text
    assert "dies away by about" not in text
    assert "two ways at once" not in text
    page = (tmp_path / "report" / "report.html").read_text(encoding="utf-8")
    assert "or more" in page
    assert not any(word in page for word in (">nan", " nan", ">inf", " inf "))
    data = json.loads(run(*given, "--json", "-"))
    assert data["settled_hours"]["low"] > 48
    assert data["settled_hours"]["high"] is None
    darkest = data["tones"][-1]
    assert darkest["to_come_delta_E00"]["low"] > 0.3
    assert darkest["to_come_delta_E00"]["high"] is None
    assert darkest["final_L"] is None
    assert data["fit"]["time_constants"] == []


def test_a_report_with_its_figure_is_written(files: list[Path], tmp_path: Path) -> None:
    output = run(*files, "--hours", stated(HOURS), "-o", tmp_path / "report")
    written = {str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*") if path.is_file()}
    assert written == {
        "report/report.html",
        "report/drying.json",
        "report/figures/drying.png",
        "report/figures/drying.svg",
    }
    assert "The report is" in output
    page = (tmp_path / "report" / "report.html").read_text(encoding="utf-8")
    assert "can be trusted" in page


@pytest.mark.parametrize(
    ("hours", "message"),
    [
        ("1,two", "is not a list of hours"),
        ("1", "times: 1, readings: 2"),
        ("3,3", "have the same time"),
    ],
)
def test_bad_hours_are_one_message(files: list[Path], hours: str, message: str) -> None:
    with pytest.raises(BadInput, match=message):
        run(*files[:2], "--hours", hours)


def test_no_reading_is_overwritten(files: list[Path]) -> None:
    with pytest.raises(BadInput, match="this is an input"):
        run(*files, "--hours", stated(HOURS), "--json", files[0])
