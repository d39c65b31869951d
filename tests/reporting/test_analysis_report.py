"""The folder of an analysis: every file there, whole, true to the numbers, and over no input."""

import json
import re
from dataclasses import replace

import pytest
from markupsafe import escape
from PIL import Image

from greyscale.analysis.analyse import analyse
from greyscale.base.errors import BadInput
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.analysis_words import sentences, verdict
from greyscale.reporting.html import html, write_report
from greyscale.reporting.style import SIMULATED, swatches

FIGURES = {"ramp", "drift", "path", "tone", "metamerism"}


@pytest.fixture(scope="module")
def folder(analysis, tmp_path_factory):
    target = tmp_path_factory.mktemp("report") / "new" / "folder"
    write_report(target, analysis_report([analysis], "greyscale analyse harbour.txt -o folder"))
    return target


@pytest.fixture(scope="module")
def page(folder):
    return (folder / "report.html").read_text(encoding="utf-8")


def test_the_folder_holds_page_numbers_table_and_figures(folder):
    assert {path.name for path in folder.iterdir()} == {
        "report.html", "analysis.json", "patches.csv", "figures",
    }  # fmt: skip
    expected = {f"{name}.{kind}" for name in FIGURES for kind in ("png", "svg")}
    assert {path.name for path in (folder / "figures").iterdir()} == expected
    assert json.loads((folder / "analysis.json").read_text())["schema"] == "greyscale/analysis/1"
    for path in (folder / "figures").glob("*.png"):
        assert Image.open(path).width == 1500


def test_the_sentence_that_matters_comes_first(page, analysis):
    first = verdict([analysis])[0]
    command = page.index("<code><span>greyscale</span> <span>correct</span> ")
    assert page.index(first) < command < page.index(sentences(analysis)[0])
    assert command < page.index("<figure") < page.index("<table")


def test_every_tone_has_the_swatch_of_its_measured_colour(page, analysis):
    table = page[page.index("Every tone</h2>") :]
    drawn = re.findall(r'class="swatch" style="background:(#[0-9a-f]{6})"', table)
    assert drawn == [swatch.colour for swatch in swatches(analysis.patches.lab)]


def test_the_page_says_how_it_was_measured_and_judged_and_made(page):
    from greyscale import __version__

    for text in (
        "M1 (ISO 13655)", "2° observer", "simulated spectrometer", "4 March 2025, 10:30",
        "D50, A and F11", "5 tones measured 10 times", "exhibition: mean ΔCh up to 0.75",
        "common practice, no source", f"greyscale {__version__}",
        "greyscale analyse harbour.txt -o folder",
    ):  # fmt: skip
        assert text in page, text


def test_the_page_says_what_it_does_not_say(page):
    assert escape(SIMULATED) in page
    assert "not calibrated" in SIMULATED
    assert "not conservation advice" in page
    assert "whether a light is safe" in page


def test_without_spectra_the_page_says_why_there_are_no_lights(without_spectra, tmp_path, undrawn):
    page = write_report(tmp_path, analysis_report([without_spectra])).read_text(encoding="utf-8")
    assert without_spectra.lights_absent in page
    assert not (tmp_path / "figures" / "metamerism.svg").exists()
    assert "D50 only" in page


def test_one_light_alone_needs_no_figure_of_change(analysis, undrawn):
    only = replace(analysis, lights=analysis.lights[:1])
    page = html(analysis_report([only]))
    assert "Metamerism index over L*" not in page
    assert "The ramp under each light" in page


def test_several_readings_stand_side_by_side_and_keep_their_files_apart(
    analysis, tmp_path, undrawn
):
    named = [
        replace(analysis, reading=replace(analysis.reading, name=name, source=name))
        for name in ("Kozo / 2", "kozo 2", "../../etc")
    ]
    page = write_report(tmp_path, analysis_report(named)).read_text(encoding="utf-8")
    tables = {path.name for path in tmp_path.glob("*.csv")}
    assert tables == {"kozo-2-patches.csv", "kozo-2-2-patches.csv", "etc-patches.csv"}
    assert len(list((tmp_path / "figures").iterdir())) == 3 * len(FIGURES) * 2
    assert "Side by side" in page
    assert "None of the 3 readings is within the exhibition tolerance." in page
    data = json.loads((tmp_path / "analysis.json").read_text())
    assert data["schema"] == "greyscale/analyses/1"
    assert len(data["analyses"]) == 3


def test_readings_of_one_name_are_told_apart_by_their_condition(analysis):
    both = [
        replace(
            analysis,
            reading=replace(analysis.reading, name="wall", condition=condition),
            remarks=("Noted.",),
        )
        for condition in ("M0", None)
    ]
    report = analysis_report(both)
    assert report.title == "wall (M0) and wall (condition not stated)"
    assert report.remarks == ("wall (M0): Noted.", "wall (condition not stated): Noted.")


def test_of_several_readings_it_says_which_keep_the_tolerance(analysis, undrawn):
    kept = replace(
        analysis,
        reading=replace(analysis.reading, name="corrected"),
        neutrality=replace(analysis.neutrality, verdict="pass", probability=1.0),
        tone=replace(analysis.tone, verdict="pass", probability=1.0),
    )
    page = html(analysis_report([analysis, kept]))
    assert "corrected is within the exhibition tolerance; cotton rag, harbour wall is not." in page


def test_a_report_never_takes_the_place_of_its_reading(tmp_path, analysis, undrawn):
    source = tmp_path / "patches.csv"
    source.write_text("measured")
    here = replace(analysis, reading=replace(analysis.reading, source=str(source)))
    with pytest.raises(BadInput, match="input"):
        write_report(tmp_path, analysis_report([here]))
    assert [path.name for path in tmp_path.iterdir()] == ["patches.csv"]
    assert source.read_text() == "measured"


def test_a_folder_that_is_a_file_is_refused_and_left_alone(tmp_path, analysis, undrawn):
    target = tmp_path / "report"
    target.write_text("a letter")
    with pytest.raises(BadInput, match="cannot be written"):
        write_report(target, analysis_report([analysis]))
    assert target.read_text() == "a letter"


def test_the_proof_grade_is_named_with_its_standard(make_reading, undrawn):
    page = html(analysis_report([analyse(make_reading(9), tolerance="contract-proof")]))
    assert "proof: mean ΔCh up to 2, largest up to 3.5 (ISO 12647-7:2016" in page
