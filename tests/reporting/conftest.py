"""Readings and analyses that the tests of reports share."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from support.as_printed import compare
from support.browser import Chromium
from support.corrections import LUTS, NEXT_ROUND, correction_with, curve_against, proof_of
from support.empty_figures import have_empty_figures
from support.logged import reading as logged_reading

import greyscale.correction.verify as verifying
from greyscale.analysis.analyse import Analysis, analyse
from greyscale.analysis.comparison import Comparison, ComparisonOptions
from greyscale.analysis.drying import Drying, drying
from greyscale.analysis.trend import DatedAnalysis, trend
from greyscale.colorimetry.lights import Light, light
from greyscale.demo.printer import demo_printer
from greyscale.readings.lamps import find_light
from greyscale.readings.reading import Reading
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.comparison_report import comparison_report
from greyscale.reporting.correction_report import correction_report
from greyscale.reporting.drying_report import drying_report
from greyscale.reporting.html import html
from greyscale.reporting.page import Report
from greyscale.reporting.trend_report import ShownTrend, trend_report
from greyscale.reporting.verification_report import verification_report

HOSTILE = (
    "</script></title><script>document.title='owned'</script>"
    "<img src='http://example.test/x.png' onerror=\"document.title='owned'\">"
    '$\\frac{x}$ "quoted" & {{ 7 * 7 }}'
)
"""Markup, an event handler, TeX and template syntax: all of it must be shown as it stands."""


def reading_of(tones: int = 33, **changes: object) -> Reading:
    """A ramp with some repeats, printed and read by the simulated printer."""
    levels = np.linspace(1, 0, tones)
    levels = np.concatenate([levels, levels[::8]])
    reading = demo_printer("cotton rag").measure(
        [f"T{i + 1}" for i in range(levels.size)],
        np.repeat(levels[:, np.newaxis], 3, axis=1),
        name="cotton rag, harbour wall",
        seed=7,
        created=datetime(2025, 3, 4, 10, 30),
    )
    return replace(reading, **changes)


@pytest.fixture(scope="session")
def make_reading():
    return reading_of


@pytest.fixture(scope="session")
def analysis() -> Analysis:
    return analyse(reading_of())


@pytest.fixture(scope="session")
def without_spectra() -> Analysis:
    return analyse(reading_of(spectra=None, wavelengths=None))


@pytest.fixture(scope="session")
def many_lights() -> Analysis:
    lights = ("D50", "A", "F11", "F2", "D65", "LED-B1", "LED-B3", "LED-V2")
    return analyse(reading_of(), lights=lights)


@pytest.fixture(scope="session")
def three_tones() -> Analysis:
    """Paper, one grey, black: the least that is a ramp."""
    return analyse(reading_of(3))


@pytest.fixture(scope="session")
def hostile_analysis() -> Analysis:
    """Every text that a file or an option can bring in is hostile."""
    a = light("A")
    lamp = Light(HOSTILE, a.power, a.wavelengths, a.measured)
    reading = reading_of(
        name=HOSTILE,
        source=HOSTILE,
        condition=HOSTILE,
        backing=HOSTILE,
        instrument=HOSTILE,
        printer=HOSTILE,
        paper=HOSTILE,
        settings=HOSTILE,
        remarks=(HOSTILE, HOSTILE),
    )
    reading = replace(reading, ids=tuple(f"{HOSTILE}{i}" for i in range(len(reading))))
    return analyse(reading, lights=("D50", lamp))


@pytest.fixture(scope="session")
def correction():
    made = correction_with(curve_against())
    return replace(made, curve=replace(made.curve, lab=made.target_lab))


@pytest.fixture(scope="session")
def verification(correction):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verifying, "next_round", lambda *given: NEXT_ROUND)
        return verifying.verify(proof_of(correction), correction)


@pytest.fixture(scope="session")
def comparison() -> Comparison:
    levels = np.linspace(0, 1, 13)
    device = np.repeat(levels[:, np.newaxis], 3, axis=1)
    ids = [str(i) for i in range(levels.size)]
    readings = [
        demo_printer(paper).measure(ids, device, name=f"{paper}, {condition}", condition=condition)
        for paper in ("cotton rag", "baryta", "kozo")
        for condition in ("M1", "M2")
    ]
    lights = tuple(find_light(name) for name in ("D50", "A", "LED-B3"))
    return compare(readings, ComparisonOptions(lights=lights))


@pytest.fixture(scope="session")
def dried() -> Drying:
    hours = (0.2, 1, 6, 24)
    readings = [reading_of(9, name=f"after {one} h", source=f"{one}.txt") for one in hours]
    moved = [
        replace(one, spectra=None, wavelengths=None, lab=one.lab - [0.9 * np.exp(-h / 3), 0, 0])
        for one, h in zip(readings, hours, strict=True)
    ]
    return drying(moved, hours)


@pytest.fixture(scope="session")
def followed() -> ShownTrend:
    analyses = [analyse(logged_reading(week), lights=()) for week in range(8)]
    first = datetime(2026, 3, 4, 10, 30)
    dated = [
        DatedAnalysis(week + 1, first + timedelta(weeks=week), one)
        for week, one in enumerate(analyses)
    ]
    return ShownTrend(
        trend=trend(dated, None), printer="six-ink, studio", paper="cotton rag", inks=None,
        settings=None, condition="M1", backing="white", observer="2", correction=None,
    )  # fmt: skip


@pytest.fixture(scope="session")
def reports(analysis, comparison, correction, verification, dried, followed) -> dict[str, Report]:
    """One report of each kind, each made by a command."""
    another = replace(analysis, reading=replace(analysis.reading, name="harbour wall, second"))
    return {
        "analysis": analysis_report([analysis], "greyscale analyse harbour.txt -o report"),
        "analyses": analysis_report([analysis, another], "greyscale analyse a b"),
        "comparison": comparison_report(comparison, "greyscale compare a.txt b.txt -o papers"),
        "correction": correction_report(correction, LUTS, "greyscale correct harbour.txt -o light"),
        "verification": verification_report(verification, "greyscale verify proof.txt -o proof"),
        "drying": drying_report(dried, "greyscale drying 0.2.txt 24.txt -o drying"),
        "trend": trend_report(followed, "greyscale log trend -o over-time"),
    }


@pytest.fixture(scope="session")
def pages(reports) -> dict[str, str]:
    """The web page of each report: drawing their figures takes most of the time."""
    return {kind: html(report) for kind, report in reports.items()}


@pytest.fixture
def undrawn(monkeypatch):
    """Reports with empty figures, where words and files alone are looked at."""
    have_empty_figures(monkeypatch)


@pytest.fixture(scope="session")
def browser(tmp_path_factory):
    """A browser that all tests share, each with pages of its own."""
    with Chromium(tmp_path_factory.mktemp("profile")) as one:
        yield one
