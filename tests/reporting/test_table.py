"""The terminal's tables: at a glance, within a screen, plain where colour is not wanted."""

from __future__ import annotations

import io
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console
from support.grey_readings import WAVELENGTHS, grey_spectra, ramp_lab, reading_of

from greyscale.analysis.analyse import analyse
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.analysis_words import sentences, verdict
from greyscale.reporting.next_step import after_analysis
from greyscale.reporting.terminal import named_values, plain_table, show_report

SAMPLES = Path(__file__).parents[2] / "sample_measurements"


def tinted(count=65, **facts):
    level = np.linspace(0, 1, count)
    bump = np.exp(-(((level - 0.2) / 0.06) ** 2))[:, None]
    green = np.exp(-(((WAVELENGTHS - 540) / 40) ** 2))
    return analyse(
        reading_of(level, spectra=grey_spectra(level) * (1 + 0.2 * bump * green), **facts)
    )


def shown(*analyses, every=False, step=None, **console):
    options = {"width": 80, "highlight": False, **console}
    text = io.StringIO()
    show_report(analysis_report(analyses, "", step), Console(file=text, **options), every)
    return text.getvalue()


def one_line(text):
    return " ".join(text.split())


def test_the_verdict_stands_last_and_the_paragraph_before_the_numbers():
    found = tinted()
    text = one_line(shown(found, every=True))
    paragraph, seen = " ".join(sentences(found)), " ".join(verdict([found]))
    places = [text.index(part) for part in (paragraph, "Neutrality", "Every tone", seen)]
    assert places == sorted(places)


def test_it_fits_a_terminal_of_80_by_24_and_ends_with_a_command_to_copy():
    found = tinted(65)
    step = after_analysis([found], Path("a chart.txt"))
    lines = shown(found, step=step).splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines[:-1])) <= 80
    command = f"  greyscale correct {found.reading.source} --layout 'a chart.txt' -o my-correction"
    assert lines[-1] == command


def test_every_tone_is_shown_when_asked_for():
    found = tinted(65)
    text = shown(found, every=True)
    assert all(f"{level:.3f}" in text for level in found.patches.level)
    assert "yellow-green, peak" in text


def test_each_light_has_its_line():
    lines = shown(tinted(), every=True).splitlines()
    for name in ("D50", "A", "F11"):
        assert any(line.startswith(f"{name} ") for line in lines)


def test_without_spectra_there_is_no_table_of_lights():
    level = np.linspace(0, 1, 11)
    assert "The ramp under each light" not in shown(
        analyse(reading_of(level, ramp_lab(level))), every=True
    )


def test_several_readings_have_their_paragraph_and_a_line_each():
    text = shown(tinted(name="cotton rag"), tinted(name="kozo [2]"))
    assert text.count("Outside the exhibition tolerance") == 2
    assert "Every tone" not in text
    table = text[text.index("Side by side") :]
    assert "cotton rag" in table
    assert "kozo [2]" in table  # brackets are letters, not instructions


def test_remarks_come_before_the_verdict():
    text = shown(tinted(remarks=("Two patches were left out.",)))
    assert text.split("\n\n")[-2].startswith("- Two patches were left out.\n")


def test_no_colour_where_it_is_not_wanted(monkeypatch):
    assert "\x1b" not in shown(tinted())  # not a terminal
    monkeypatch.setenv("NO_COLOR", "1")
    coloured = shown(tinted(), force_terminal=True)
    assert "\x1b[3" not in coloured  # bold may be, colours not


def test_narrow_terminals_wrap_but_lose_nothing():
    found = tinted()
    text = one_line(shown(found, every=True, width=60))
    assert " ".join(sentences(found)) in text
    assert f"{found.tone.density_range:.2f}" in text


def drawn(table, width):
    text = io.StringIO()
    Console(file=text, width=width).print(table)
    lines = text.getvalue().splitlines()
    assert max(map(len, lines)) <= width
    return lines


def test_no_letter_is_lost_where_names_are_too_long_for_their_line():
    names = ["".join(chr(97 + (7 * i + k) % 26) for k in range(21)) for i in range(6)]
    table = plain_table(None, [f"head{i}" for i in range(6)], range(6))
    table.add_row(*names)
    for width in (80, 60, 30, 15):
        assert Counter("".join(drawn(table, width)).replace(" ", "")) >= Counter("".join(names))


@pytest.mark.parametrize("width", [200, 120, 80, 65, 50, 40])
def test_no_word_of_a_table_is_cut_in_a_terminal_of_any_width(width):
    heads = ("setting", "rank", "score", "Dmax", "shadows distinct from", "answers in", "left")
    rows = [
        ("matt, heavy ink", "1=", "4.7", "1.62", "0.07", "lightness only", "0.27"),
        ("photo-grade-baryta-0117.txt", "1=", "12.0 (11.2–14.9)", "1.55", "0.06", "colour", "0.23"),
    ]
    table = plain_table("Settings, best first", heads, (0, 1, 5))
    for row in rows:
        table.add_row(*row)
    shown = " ".join(drawn(table, width)).split()
    for word in " ".join(
        ("Settings, best first", *heads, *(" ".join(row) for row in rows))
    ).split():
        # A long name may be parted after a hyphen or a dot.
        for part in re.findall(r"[^-.]+[-.]*", word) if len(word) > 18 else [word]:
            assert any(part in one for one in shown), (word, width)


def test_where_columns_have_no_room_each_value_stands_by_its_heading():
    table = plain_table("Papers", ["paper", "rank", "mean ΔCh"], (0, 1))
    table.add_row("unbleached-cotton", "1", "0.72")
    assert drawn(table, 26) == ["Papers", "paper unbleached-cotton;", "  rank 1; mean ΔCh 0.72"]
    # What is long and has no hyphen is broken once, and what is empty has no heading.
    table = plain_table(None, ["paper", "rank", "in short"], range(3))
    table.add_row("abcdefghijklmnopqrstuvwxyz", "1", "")
    assert drawn(table, 22) == ["paper", "  abcdefghijklmnopqrst", "  uvwxyz; rank 1"]


def test_no_name_of_a_value_is_cut():
    rows = [
        ("mean ΔE00 from the prediction", "0.26"),
        ("paper", "cotton rag, 310 g, of a new roll"),
    ]
    lines = drawn(named_values(rows), 40)
    assert "…" not in "".join(lines)
    for word in " ".join(map(" ".join, rows)).split():
        assert word in " ".join(lines)
