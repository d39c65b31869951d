"""The terminal's tables: at a glance, within a screen, plain where colour is not wanted."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console
from support.grey_readings import WAVELENGTHS, grey_spectra, ramp_lab, reading_of

from greyscale.analysis.analyse import analyse
from greyscale.readings.formats import read
from greyscale.reporting import analysis_page
from greyscale.reporting.table import lights_table, show, shown_tones
from greyscale.reporting.words import summary

SAMPLES = Path(__file__).parents[2] / "sample_measurements"


def tinted(count=65, **facts):
    level = np.linspace(0, 1, count)
    bump = np.exp(-(((level - 0.2) / 0.06) ** 2))[:, None]
    green = np.exp(-(((WAVELENGTHS - 540) / 40) ** 2))
    return analyse(
        reading_of(level, spectra=grey_spectra(level) * (1 + 0.2 * bump * green), **facts)
    )


def shown(*analyses, every=False, **console):
    options = {"width": 80, "highlight": False, **console}
    text = io.StringIO()
    show(analyses, Console(file=text, **options), every)
    return text.getvalue()


def one_line(text):
    return " ".join(text.split())


def test_the_paragraph_stands_before_the_numbers():
    found = tinted()
    text = one_line(shown(found))
    assert summary(found) in text
    assert text.index(summary(found)) < text.index("Neutrality") < text.index("Tones (")


def test_a_long_ramp_fits_a_screen_of_80_by_48():
    lines = shown(tinted(65)).splitlines()
    assert len(lines) <= 48
    assert max(map(len, lines)) <= 80


def test_tones_are_spread_and_hold_paper_black_and_the_peak():
    found = tinted(65)
    rows = shown_tones(found)
    level = found.patches.level[rows]
    assert 11 <= rows.size <= 21
    assert (level[0], level[-1]) == (1.0, 0.0)
    assert np.abs(np.diff(level)).max() < 0.12
    assert found.neutrality.casts[0].peak_level in level
    assert "yellow-green, peak" in shown(found)


def test_every_tone_is_shown_when_asked_for_or_when_few():
    found = tinted(65)
    text = shown(found, every=True)
    assert all(f"{level:.3f}" in text for level in found.patches.level)
    assert shown_tones(tinted(13)).size == 13


def test_each_light_has_its_line():
    lines = shown(tinted()).splitlines()
    for name in ("D50", "A", "F11"):
        assert any(line.startswith(f"{name} ") for line in lines)


def test_without_spectra_there_is_no_table_of_lights():
    level = np.linspace(0, 1, 11)
    assert "Under each light" not in shown(analyse(reading_of(level, ramp_lab(level))))


def test_several_readings_have_their_paragraph_and_a_line_each():
    text = shown(tinted(name="cotton rag"), tinted(name="kozo [2]"))
    assert text.count("Outside the exhibition tolerance") == 2
    assert text.count("Tones (") == 0
    table = text[text.index("Side by side") :]
    assert "cotton rag" in table
    assert "kozo [2]" in table  # brackets are letters, not instructions


def test_remarks_come_last():
    text = shown(tinted(remarks=("Two patches were left out.",)))
    after_tables = text[text.index("black") :].split("\n\n")[-1]
    assert after_tables.startswith("- Two patches were left out.\n")


def test_no_colour_where_it_is_not_wanted(monkeypatch):
    assert "\x1b" not in shown(tinted())  # not a terminal
    monkeypatch.setenv("NO_COLOR", "1")
    coloured = shown(tinted(), force_terminal=True)
    assert "\x1b[3" not in coloured  # bold may be, colours not


def test_narrow_terminals_wrap_but_lose_nothing():
    found = tinted()
    text = one_line(shown(found, width=60))
    assert summary(found) in text
    assert f"{found.tone.density_range:.2f}" in text


@pytest.mark.parametrize("name", ["cotton-rag-33-m1", "baryta-65-m1", "baryta-65-m2"])
def test_terminal_and_page_name_the_same_casts_under_each_light(name):
    found = analyse(read(SAMPLES / f"{name}.txt"))
    terminal = [str(cell) for cell in lights_table(found).columns[-1].cells]
    assert terminal == [row[-1] for row in analysis_page.lights_table(found).rows]
