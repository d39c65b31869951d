"""One spoilt patch is named alike by every command that meets it, and hardly moves its figures."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from support.invoked import invoke

import greyscale
from greyscale.demo.printer import demo_printer
from greyscale.readings import iso28178

SENTENCE = "Patch 12 (level 0.55, "


def run(command: str) -> str:
    return " ".join(invoke(*command.split()).stdout.split())


def test_every_command_names_it_and_analysis_hardly_moves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    device = np.repeat(np.linspace(0.0, 1.0, 21)[:, np.newaxis], 3, axis=1)
    ids = tuple(map(str, range(1, 22)))
    for name, paper in (("clean", "cotton rag"), ("other", "baryta")):
        clean = demo_printer(paper).measure(ids, device, name=name, seed=3)
        iso28178.write(clean, tmp_path / f"{name}.txt")
        if name == "clean":
            # What dust that takes red light makes of a patch.
            spectra = clean.spectra.copy()
            spectra[11] *= 1.0 - 0.25 * np.exp(-(((clean.wavelengths - 640) / 60) ** 2))
            spoilt = replace(clean, name="spoilt", spectra=spectra)
            iso28178.write(replace(spoilt, lab=spoilt.lab_under("D50")), tmp_path / "spoilt.txt")
    found = {}
    for command in (
        "check spoilt.txt",
        "analyse spoilt.txt",
        "compare spoilt.txt other.txt",
        "verify spoilt.txt --correction made",
    ):
        if command.startswith("verify"):
            said = run("correct spoilt.txt -o made --lut-size 9")
            found["correct"] = json.loads((tmp_path / "made" / "correction.json").read_text())
            assert SENTENCE in said
            # Not what the correction was made from, but another reading.
            text = (tmp_path / "spoilt.txt").read_text()
            (tmp_path / "spoilt.txt").write_text(text + "\n")
        said = run(f"{command} --json {command[:5]}.json")
        found[command.split()[0]] = json.loads((tmp_path / f"{command[:5]}.json").read_text())
        assert ("12, patch out of line" if command.startswith("check") else SENTENCE) in said
    named = [(one["id"], round(one["level"], 3)) for f in found.values() for one in f["spoilt"]]
    assert named == [("12", 0.55)] * 5
    for command, made in (
        ("analyse spoilt.txt --json as-it-is.json", "as-it-is.json"),
        ("compare spoilt.txt other.txt --json compared.json", "compared.json"),
    ):
        assert SENTENCE not in run(f"{command} --unchecked")
        assert json.loads((tmp_path / made).read_text())["spoilt"] == []
    run("analyse clean.txt --json result.json")
    clean_figures = json.loads((tmp_path / "result.json").read_text())["neutrality"]
    figures = found["analyse"]["neutrality"]
    for what in ("mean_delta_Ch", "max_delta_Ch"):
        assert abs(figures[what] - clean_figures[what]) < 0.1


SAMPLES = Path(__file__).parents[2] / "sample_measurements"


@pytest.mark.parametrize("name", ["cotton-rag-33-m1.txt", "baryta-65-m1.txt"])
def test_no_patch_of_a_sound_reading_is_called_spoilt(name: str) -> None:
    assert greyscale.correct([SAMPLES / name]).spoilt == ()
