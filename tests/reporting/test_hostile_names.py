"""Names that files bring in do nothing in a report of any kind: page, PDF, terminal."""

from __future__ import annotations

import io
import json
import os
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console
from support import logged, reading_files
from support.as_printed import compare
from support.corrections import LUTS, NEXT_ROUND, correction_with, curve_against, proof_of
from support.empty_figures import have_empty_figures
from support.families import family
from support.hostile import HOSTILE, Outline, harmful_in_svg
from support.logged import reading as logged_reading

import greyscale.correction.verify as verifying
from greyscale.analysis.analyse import analyse
from greyscale.analysis.comparison import ComparisonOptions
from greyscale.analysis.drying import drying
from greyscale.analysis.trend import DatedAnalysis, trend
from greyscale.colorimetry.lights import Light, light
from greyscale.correction.folder import read_correction
from greyscale.demo.printer import demo_printer
from greyscale.readings.formats import read
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.comparison_report import comparison_report
from greyscale.reporting.correction_report import correction_report
from greyscale.reporting.drying_report import drying_report
from greyscale.reporting.html import html, write_report
from greyscale.reporting.page import pictures
from greyscale.reporting.pdf import pdf
from greyscale.reporting.terminal import show_report
from greyscale.reporting.trend_report import Remark, ShownTrend, trend_report
from greyscale.reporting.verification_report import verification_report

TEXTS = dict.fromkeys(("name", "source", "instrument", "printer", "paper", "settings"), HOSTILE)
LEVELS = np.linspace(0, 1, 13)


def measured(name: str = HOSTILE, hours: float | None = None, condition: str = "M1", **more):
    device = np.repeat(LEVELS[:, np.newaxis], 3, axis=1)
    ids = [f"{HOSTILE}{i}" for i in range(LEVELS.size)]
    made = demo_printer("baryta").measure(
        ids,
        device,
        name=name,
        hours=hours,
        condition=condition,
        seed=int(10 * (hours or 0)),
        **more,
    )
    return replace(made, **{**TEXTS, "name": name, "remarks": (HOSTILE,), "fields": {}})


def lamp(name: str = HOSTILE) -> Light:
    a = light("A")
    return Light(name, a.power, a.wavelengths, a.measured, (HOSTILE,))


def an_analysis():
    return analyse(measured(), lights=("D50", lamp()))


def a_comparison():
    readings = [measured(f"{HOSTILE}{i}", condition=c) for i in range(2) for c in ("M1", "M2")]
    return compare(readings, ComparisonOptions(lights=(light("D50"), lamp())))


def a_correction():
    made = correction_with(curve_against(points=129))
    source = replace(
        made.evidence.sources[0],
        name=HOSTILE, source=HOSTILE, instrument=HOSTILE, printer=HOSTILE, paper=HOSTILE,
    )  # fmt: skip
    return replace(
        made,
        name=HOSTILE, printer=HOSTILE, paper=HOSTILE, settings=HOSTILE, aim=HOSTILE,
        follows=HOSTILE, picture=HOSTILE, toning=HOSTILE, space=HOSTILE, remarks=(HOSTILE,),
        limits=(replace(made.limits[0], message=HOSTILE),),
        evidence=replace(made.evidence, sources=(source,)),
    )  # fmt: skip


def a_verification():
    correction = replace(a_correction(), printer=None, paper=None)
    proof = proof_of(correction, **{**TEXTS, "remarks": (HOSTILE,)})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verifying, "next_round", lambda *given: NEXT_ROUND)
        return verifying.verify(proof, correction)


def a_drying():
    hours = (0.5, 2.0, 8.0, 24.0)
    return drying([measured(f"{HOSTILE}{h:g}", h) for h in hours], hours)


def a_trend():
    first = datetime(2026, 3, 4)
    dated = [
        DatedAnalysis(
            k + 1, first + timedelta(weeks=k),
            analyse(logged_reading(k, b=2.0 * (k > 5), **TEXTS), lights=()),
        )
        for k in range(8)
    ]  # fmt: skip
    about = ("printer", "paper", "inks", "settings", "condition", "backing", "correction")
    return ShownTrend(
        trend=trend(dated, None),
        observer="2",
        notes=(Remark(9, first + timedelta(weeks=6), HOSTILE),),
        remarks=(HOSTILE,),
        **dict.fromkeys(about, HOSTILE),
    )


KINDS = {
    "analysis": (an_analysis, lambda one: analysis_report([one], HOSTILE)),
    "analyses": (an_analysis, lambda one: analysis_report([one, one], HOSTILE)),
    "comparison": (a_comparison, lambda one: comparison_report(one, HOSTILE)),
    "correction": (a_correction, lambda one: correction_report(one, LUTS, HOSTILE)),
    "verification": (a_verification, lambda one: verification_report(one, HOSTILE)),
    "drying": (a_drying, lambda one: drying_report(one, HOSTILE)),
    "trend": (a_trend, lambda one: trend_report(one, HOSTILE)),
}


@pytest.fixture(scope="module", params=KINDS)
def report(request):
    """With empty figures: drawn ones are looked at below, and in a browser."""
    make, page_of = KINDS[request.param]
    with pytest.MonkeyPatch.context() as patch:
        have_empty_figures(patch)
        yield page_of(make())


@pytest.mark.parametrize("name", family(KINDS, ["analysis", "trend"]))
def test_drawings_hold_them_as_shapes_alone(name: str) -> None:
    make, page_of = KINDS[name]
    for picture in pictures(page_of(make()).sections):
        assert harmful_in_svg(picture.drawn.svg) == [], picture.name


def test_a_page_holds_them_as_text_alone(report) -> None:
    found = Outline(html(report))
    # A page has at most its own script; a hostile one would come on top of it.
    assert found.scripts <= 1
    assert found.handlers == []
    assert found.outside == []
    text = " ".join("".join(found.text).split())
    assert "<script>document.title='owned'</script>" in text
    assert "{{ 7 * 7 }} {% raw %}" in text
    assert "$\\frac{x}$" in text


@pytest.mark.exhaustive
def test_a_pdf_can_be_made_of_them(report, capfd) -> None:
    assert pdf(report).startswith(b"%PDF-")
    assert capfd.readouterr().err == ""


def test_file_names_stay_in_the_folder(report) -> None:
    for picture in pictures(report.sections):
        assert picture.name.replace("-", "").isalnum(), picture.name


def test_a_terminal_shows_them_as_they_stand(report) -> None:
    out = io.StringIO()
    console = Console(file=out, width=4000, force_terminal=True, color_system="truecolor")
    # A name that is taken for markup ends in an error, as it closes what was never open.
    show_report(report, console, every=True)
    assert "[/bold] [red]red[/]" in out.getvalue()
    show_report(report, console, every=True, written=Path(HOSTILE), further=(HOSTILE,))


OBEYED = "\x1b[2J\x9b31m\u202e"


def test_what_a_terminal_obeys_does_not_come_in(tmp_path) -> None:
    """By characters that XML names by number, by JSON, by a profile, by the name of a file."""
    by_number = "".join(f"&#x{ord(sign):x};" for sign in OBEYED if sign != "\x1b")
    cxf = tmp_path / "a.cxf"
    device = np.repeat(LEVELS[:, np.newaxis], 3, axis=1)
    spectra = np.repeat(LEVELS[:, np.newaxis], 31, axis=1) * 0.9
    ids = [f"{by_number}{i}" for i in range(LEVELS.size)]
    text = reading_files.cxf3(ids, device, spectra, np.arange(400, 701, 10))
    cxf.write_text(text.replace("ramp</cc:Desc", f"{by_number}ramp</cc:Desc"), encoding="utf-8")
    found = read(cxf)
    assert found.name == "[2J31mramp"
    assert found.ids[0] == "[2J31m0"
    named = tmp_path / f"fog{OBEYED}.csv"
    named.write_text("R;G;B;L*;a*;b*\n0;0;0;10;0;0\n255;255;255;95;0;-2\n", encoding="utf-8")
    assert read(named).name == "fog[2J31m"
    folder = logged.correction_folder(tmp_path / "correction", name=f"harbour{OBEYED}")
    document = folder / "correction.json"
    data = json.loads(document.read_text(encoding="utf-8"))
    document.write_text(json.dumps({**data, "printer": f"p{OBEYED}\ud800"}), encoding="utf-8")
    correction = read_correction(folder)
    assert correction.name == "harbour[2J31m"
    assert correction.printer == "p[2J31m\ufffd"


@pytest.mark.skipif(os.name == "nt", reason="names of files are Unicode there")
def test_a_file_named_in_an_old_encoding_is_read_and_reported(tmp_path, capfd) -> None:
    path = os.fsdecode(os.fsencode(tmp_path) + b"/T\xfcr.csv")
    with open(path, "w", encoding="utf-8") as file:
        rows = "".join(f"{v};{v};{v};{20 + 75 * v / 255:.2f};0;0\n" for v in range(0, 256, 15))
        file.write(f"R;G;B;L*;a*;b*\n{rows}")
    analysis = analyse(read(path))
    assert analysis.reading.name == "T\ufffdr"
    assert write_report(
        tmp_path / "out", analysis_report([analysis], f"greyscale {path}"), pdf=True
    ).is_file()
    assert json.loads((tmp_path / "out" / "analysis.json").read_text(encoding="utf-8"))
