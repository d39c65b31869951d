"""JSON as it is promised to other programs: every key, plain numbers, null for what is missing."""

from __future__ import annotations

import json

import numpy as np
import pytest
from support.grey_readings import WAVELENGTHS, grey_spectra, ramp_lab, reading_of

from greyscale.analysis.analyse import analyse
from greyscale.base.results import json_text, plain
from greyscale.reporting.analysis_report import patches_csv
from greyscale.reporting.json_output import analyses_data, write_json

LEVELS = np.linspace(0, 1, 11)
NUMBER = (int, float)

LAB = {"L": NUMBER, "a": NUMBER, "b": NUMBER}
CAST = {
    "from_level": NUMBER,
    "to_level": NUMBER,
    "hue": str,
    "hue_angle": NUMBER,
    "peak_delta_Ch": NUMBER,
    "peak_level": NUMBER,
}
PROMISED = {
    "schema": str,
    "reading": {
        "name": str,
        "source": str,
        "patches": int,
        "spectral": bool,
        "condition": (str, type(None)),
        "backing": (str, type(None)),
        "observer": str,
        "repeatability": dict,
    },
    "paper": LAB,
    "black": LAB,
    "patches": [
        {
            "id": str,
            "level": NUMBER,
            **LAB,
            "density": NUMBER,
            **dict.fromkeys(("aim_L", "aim_a", "aim_b"), NUMBER),
            **dict.fromkeys(("delta_L", "delta_a", "delta_b", "delta_Ch", "delta_E00"), NUMBER),
        }
    ],
    "neutrality": {
        "aim": str,
        "mean_delta_Ch": NUMBER,
        "max_delta_Ch": NUMBER,
        "max_at_level": NUMBER,
        "a_range": [NUMBER],
        "b_range": [NUMBER],
        "casts": [CAST],
        "tolerance": str,
        "verdict": str,
    },
    "tone": {
        "aim": str,
        "rms_delta_L": NUMBER,
        "max_delta_L": NUMBER,
        "max_at_level": NUMBER,
        "reversals": [NUMBER],
        "density_range": NUMBER,
        "distinct_shadow_level": (*NUMBER, type(None)),
        "distinct_highlight_level": (*NUMBER, type(None)),
        "smoothness": (*NUMBER, type(None)),
    },
    "lights": [
        {
            "name": str,
            "L": [NUMBER],
            "a": [NUMBER],
            "b": [NUMBER],
            "metamerism_index": [NUMBER],
            "colour_inconstancy": [NUMBER],
            "mean_delta_Ch": NUMBER,
            "max_delta_Ch": NUMBER,
            "mean_metamerism_index": NUMBER,
            "max_metamerism_index": NUMBER,
        }
    ],
}


def assert_as_promised(found, promised, path="analysis"):
    if isinstance(promised, dict):
        assert isinstance(found, dict), path
        for key, kind in promised.items():
            assert key in found, f"{path}.{key}"
            assert_as_promised(found[key], kind, f"{path}.{key}")
    elif isinstance(promised, list):
        assert isinstance(found, list), path
        assert found, f"{path} is empty"
        for i, one in enumerate(found):
            assert_as_promised(one, promised[0], f"{path}[{i}]")
    else:
        assert isinstance(found, promised), f"{path} is {found!r}"
        assert isinstance(found, bool) == (promised is bool), path


def tinted(**facts):
    spectra = grey_spectra(LEVELS) * (
        1 + 0.2 * (4 * LEVELS * (1 - LEVELS))[:, None] * np.sin(WAVELENGTHS / 60)
    )
    # Three tones that turn back: one alone would be taken for a spoilt patch.
    spectra[3:6] = spectra[2] * np.array([[0.8], [0.6], [0.45]])
    return analyse(reading_of(LEVELS, spectra=spectra, **facts))


def test_every_promised_key_is_there_with_its_kind():
    data = json.loads(json_text(analyses_data([tinted(backing="white")])))
    assert data["schema"] == "greyscale/analysis/1"
    assert_as_promised(data, PROMISED)
    assert [light["name"] for light in data["lights"]] == ["D50", "A", "F11"]
    assert all(len(light["a"]) == len(data["patches"]) == 11 for light in data["lights"])


def test_patches_come_by_falling_level():
    levels = [patch["level"] for patch in analyses_data([tinted()])["patches"]]
    assert levels == sorted(levels, reverse=True)
    assert (levels[0], levels[-1]) == (1.0, 0.0)


def test_differences_are_measured_minus_aim():
    for patch in json.loads(json_text(analyses_data([tinted()])))["patches"]:
        for axis in "Lab":
            assert patch[f"delta_{axis}"] == pytest.approx(patch[axis] - patch[f"aim_{axis}"])
        assert patch["delta_Ch"] == pytest.approx(np.hypot(patch["delta_a"], patch["delta_b"]))


def test_without_spectra_lights_are_null_and_the_reason_is_given():
    found = analyse(reading_of(LEVELS, ramp_lab(LEVELS), condition=None))
    data = json.loads(json_text(analyses_data([found])))
    assert data["lights"] is None
    assert "no spectra" in data["lights_absent"]
    assert data["reading"]["condition"] is None
    assert data["reading"]["spectral"] is False
    without = {key: PROMISED[key] for key in ("schema", "reading", "paper", "black", "patches")}
    assert_as_promised(data, without)


def test_several_readings_have_a_frame_of_their_own():
    data = analyses_data([tinted(), tinted(name="kozo")])
    assert data["schema"] == "greyscale/analyses/1"
    assert [one["reading"]["name"] for one in data["analyses"]] == ["cotton rag", "kozo"]
    assert all(one["schema"] == "greyscale/analysis/1" for one in data["analyses"])


def test_numbers_are_plain_and_complete():
    text = json_text({"x": np.float64(1 / 3), "n": np.int64(3), "y": [np.nan, np.inf], "z": -0.0})
    assert json.loads(text) == {"x": 1 / 3, "n": 3, "y": [None, None], "z": 0.0}
    assert "-0" not in text
    assert plain(np.array([[1.5]])) == [[1.5]]


def test_json_is_written_whole_or_to_standard_output(tmp_path, capsys):
    write_json({"hue": "ΔCh"}, tmp_path / "a" / "x.json")
    assert json.loads((tmp_path / "a" / "x.json").read_text(encoding="utf-8")) == {"hue": "ΔCh"}
    write_json({"a": 1}, "-")
    assert json.loads(capsys.readouterr().out) == {"a": 1}


def test_the_table_for_a_spreadsheet_says_what_the_json_says():
    import csv
    import io

    found = tinted()
    rows = list(csv.DictReader(io.StringIO(patches_csv(found))))
    patches = json.loads(json_text(analyses_data([found])))["patches"]
    assert len(rows) == len(patches)
    for row, patch in zip(rows, patches, strict=True):
        assert row["id"] == patch["id"]
        for key in ("level", "L", "a", "b", "density", "aim_a", "delta_Ch", "delta_E00"):
            assert float(row[key]) == pytest.approx(patch[key], abs=5.1e-5)
    assert float(rows[3]["A metamerism index"]) == pytest.approx(
        found.lights[1].metamerism_index[3], abs=5.1e-5
    )
    assert "-0.0000" not in patches_csv(found)
