"""`greyscale analyse` as a person runs it: what it says, writes, and how it ends."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from support.grey_readings import WAVELENGTHS
from support.invoked import invoke
from support.reading_files import iso28178

from greyscale.base.errors import BadInput

SAMPLES = Path(__file__).parents[2] / "sample_measurements"
TR006 = SAMPLES / "tr006-grey.txt"
LEVELS = np.linspace(0, 1, 21)


run = partial(invoke, "analyse")


def ramp_file(path, cast=0.0, name="P"):
    # L* as the default aim has it, as spectrally flat reflectance (CIE 15:2018, 8.2.1).
    flat = ((16.0 + 79.0 * LEVELS + 16.0) / 116.0) ** 3
    spectra = np.repeat(flat[:, np.newaxis], WAVELENGTHS.size, axis=1)
    spectra = spectra * (1 + cast * (4 * LEVELS * (1 - LEVELS))[:, None] * np.sin(WAVELENGTHS / 60))
    device = np.repeat(LEVELS[:, None], 3, axis=1)
    ids = [f"{name}{i}" for i in range(21)]
    path.write_text(iso28178(ids, device, spectra, WAVELENGTHS), encoding="utf-8")
    return path


@pytest.fixture
def neutral(tmp_path):
    return ramp_file(tmp_path / "neutral.txt")


@pytest.fixture
def toned(tmp_path):
    return ramp_file(tmp_path / "toned.txt", cast=0.12)


def test_the_paragraph_comes_first_then_numbers_if_asked_for_then_the_verdict(neutral):
    assert "Verdict" not in run(neutral).stdout
    result = run(neutral, "--verbose")
    assert result.exit_code == 0
    text = " ".join(result.stdout.split())
    assert "Neutral within 0.1 from paper to black; stays neutral under A and F11." in text
    places = [
        text.index("Neutral within"),
        text.index("mean ΔCh 0.00 within 0.75"),
        text.index("Neutral from paper to black: nobody would notice a tint."),
        text.index("Nothing needs to be corrected."),
    ]
    assert places == sorted(places)


def test_a_published_ramp_by_the_command():
    result = run(TR006, "--ramp", "CMY")
    assert "Orange from the highlights to the shadows" in result.stdout


def test_json_to_standard_output_and_nothing_else(toned):
    result = run(toned, "--json", "-")
    data = json.loads(result.stdout)
    assert data["schema"] == "greyscale/analysis/1"
    assert [light["name"] for light in data["lights"]] == ["D50", "A", "F11"]


def test_json_of_several_readings(toned, neutral):
    data = json.loads(run(toned, neutral, "--json", "-").stdout)
    assert data["schema"] == "greyscale/analyses/1"
    assert len(data["analyses"]) == 2


def test_several_readings_side_by_side(toned, neutral):
    table = run(toned, neutral).stdout.split("Side by side")[1]
    assert "fail" in table
    assert "pass" in table


def test_the_next_step_of_a_chart_read_in_m1_and_m2_takes_both_readings(toned, tmp_path):
    without = tmp_path / "without.txt"
    without.write_text(toned.read_text("utf-8").replace("Illumination=M1", "Illumination=M2"))
    last = run(toned, without).stdout.splitlines()[-1]
    assert last.split()[:4] == ["greyscale", "correct", str(toned), str(without)]


def test_lights_are_added_to_the_required_ones(neutral):
    data = json.loads(run(neutral, "--json", "-", "--light", "LED-B3", "--light", "a").stdout)
    assert [light["name"] for light in data["lights"]] == ["D50", "A", "F11", "LED-B3"]


def test_options_reach_the_analysis(toned, tmp_path):
    table = tmp_path / "aim.csv"
    table.write_text("0,0\n0.5,40\n1,100\n")
    data = json.loads(
        run(
            *(toned, "--json", "-", "--aim", table, "--scaling", "black-point"),
            *("--neutral", "paper", "--tolerance", "proof", "--observer", "10"),
        ).stdout
    )
    assert data["tone"]["aim"] == str(table)
    assert data["tone"]["scaling"] == "black-point"
    assert data["neutrality"]["aim"] == "paper"
    assert data["neutrality"]["tolerance"] == "contract-proof"
    assert data["reading"]["observer"] == "10"


def test_a_failing_print_is_still_a_job_done_unless_strict(toned, neutral):
    assert run(toned).exit_code == 0
    assert run(toned, "--strict").exit_code == 1
    assert run(neutral, "--strict").exit_code == 0
    assert run(neutral, toned, "--strict").exit_code == 1


def test_every_tone_when_asked(neutral):
    text = run(neutral, "--verbose").stdout
    assert all(f"{level:.3f}" in text for level in LEVELS)


def test_a_folder_with_report_json_and_table(toned, tmp_path):
    folder = tmp_path / "report"
    result = run(toned, "-o", folder)
    assert str(folder / "report.html") in result.stdout.replace("\n", "")
    assert {path.name for path in folder.iterdir()} >= {
        "report.html",
        "analysis.json",
        "patches.csv",
    }
    data = json.loads((folder / "analysis.json").read_text(encoding="utf-8"))
    assert data == json.loads(run(toned, "--json", "-").stdout)


@pytest.mark.parametrize("option", ["--json", "-o"])
def test_an_input_is_never_overwritten(tmp_path, option):
    reading = ramp_file(tmp_path / "analysis.json")
    before = reading.read_bytes()
    with pytest.raises(BadInput, match="this is an input"):
        run(reading, option, reading if option == "--json" else tmp_path)
    assert reading.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["analysis.json"]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--aim", "gamma-9"], "tone aim 'gamma-9' is not known"),
        (["--neutral", "grey"], "neutral aim 'grey' is not known"),
        (["--tolerance", "strict"], "tolerance 'strict' is not known"),
        (["--scaling", "none-such"], "scaling 'none-such' is not known"),
        (["--light", "LED-B33"], "LED-B3"),
        (["--observer", "5"], "observer '5' is not known"),
    ],
)
def test_options_that_are_not_known(neutral, options, says):
    with pytest.raises(BadInput, match=says):
        run(neutral, *options)


def altered(path, change):
    path.write_text(change(path.read_text(encoding="utf-8")), encoding="utf-8")
    return path


def with_last(text, value):
    """Put another value at the end of one patch's spectrum."""
    return re.sub(r"(P7\t.*\t)[^\t\n]+\n", rf"\g<1>{value}\n", text)


BAD = {
    "empty file": lambda text: "",
    "no table": lambda text: "CGATS.17\n",
    "one patch": lambda text: (
        text[: text.index("P1\t")].replace("NUMBER_OF_SETS 21", "NUMBER_OF_SETS 1") + "END_DATA\n"
    ),
    "no ramp": lambda text: text.replace("RGB_R", "LAB_L"),
    "not a number": lambda text: with_last(text, "nan"),
    "negative": lambda text: with_last(text, "-0.3"),
    "too bright": lambda text: with_last(text, "1.9"),
    "missing column": lambda text: text.replace("RGB_G\t", "", 1),
    "short row": lambda text: text.replace("P4\t", "", 1),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_ends_in_one_message_and_2(tmp_path, case, neutral, runner):
    path = altered(neutral, BAD[case])
    out = tmp_path / "out"
    done = runner.run("analyse", path, "-o", out, "--json", tmp_path / "j", cwd=tmp_path)
    assert done.code == 2, done.out
    assert done.out == ""
    assert "Traceback" not in done.err
    assert done.err.startswith(f"greyscale: {path}")
    assert len(done.err.strip().splitlines()) == 1
    assert not out.exists()
    assert not (tmp_path / "j").exists()


def test_a_binary_file_and_a_missing_one(tmp_path):
    path = tmp_path / "photo.txt"
    path.write_bytes(bytes(range(256)) * 40)
    with pytest.raises(BadInput):
        run(path)
    with pytest.raises(BadInput, match="no such file"):
        run(tmp_path / "nothing.txt")


def test_the_text_path_draws_nothing(neutral):
    """The text needs no figures, so what draws them stays unloaded; nor SciPy or SQLite."""
    code = (
        "import sys; from greyscale.cli.app import app\n"
        f"try: app(['analyse', {str(neutral)!r}])\n"
        "except SystemExit as end: assert not end.code, end.code\n"
        "drawing = ('matplotlib', 'PIL', 'jinja2', 'scipy', 'sqlite3')\n"
        "loaded = {name for name in sys.modules if name.startswith(drawing)}\n"
        "assert not loaded, loaded\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
