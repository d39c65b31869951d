"""What short reports say is one document each, drawn in all three ways.

They are those of `check`, `chart`, `apply`, `lights`, `log list` and `log show`.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from html import unescape
from io import BytesIO, StringIO
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader
from rich.console import Console

from greyscale.applying.apply import Applied
from greyscale.charts.chart import make_chart, settings_strips, strips_files
from greyscale.checks.checking import check
from greyscale.checks.finding import Finding
from greyscale.colorimetry.light_quality import light_quality
from greyscale.colorimetry.lights import light
from greyscale.readings.by_sheets import Glass, LampBySheets
from greyscale.readings.formats import read
from greyscale.readings.lamps import find_light
from greyscale.records.entries import Entry, NoteDetails
from greyscale.reporting.check_report import check_report
from greyscale.reporting.html import html
from greyscale.reporting.lights_report import glass_report, lamp_report, lights_report
from greyscale.reporting.log_report import entry_report, list_report
from greyscale.reporting.made_report import apply_report, chart_report, strips_report
from greyscale.reporting.page import Facts, Picture, Points, Prose, Report, Subheading, Table
from greyscale.reporting.pdf import pdf
from greyscale.reporting.terminal import show_report, wrapped

READING = Path(__file__).parents[2] / "sample_measurements" / "cotton-rag-33-m1.txt"


def checked() -> Report:
    found = Finding(
        "strip read backwards", "strip C", "It was read <so>.", "Read it again.", probability=0.999
    )
    return check_report(replace(check(read(READING)), findings=(found,), remarks=("No layout.",)))


def charted() -> Report:
    chart = make_chart("fog & rain", tones=12)
    return chart_report(chart, [Path("fog.tif"), Path("fog.pdf"), Path("fog.txt")])


def applied() -> Report:
    done = Applied(
        Path("print.tif"), 900, 600, 16, "srgb", False, "lstar", None, ("Layers are not kept.",),
        Path("print-strip.txt"),
    )  # fmt: skip
    return apply_report(done)


def lit() -> Report:
    sources = [light("D50"), light("A")]
    return lights_report(sources, [light_quality(one) for one in sources])


def glazed() -> Report:
    glass = Glass(np.arange(380.0, 740.0, 10.0), np.full(36, 0.875), "bare", "behind")
    return glass_report(glass, Path("my glass.csv"))


def lamped() -> Report:
    found = LampBySheets(np.arange(300.0, 740.0, 10.0), np.ones(44), 0.29, 0.035)
    return lamp_report(found, Path("lamp.csv"))


def behind_glass() -> Report:
    source = find_light("D50", "window-glass")
    return lights_report([source], [light_quality(source)])


STEM = Path("a folder with a long name/sets of a driver")


def stripped() -> Report:
    made = settings_strips("sets", 2)
    return strips_report(made, *strips_files(STEM, 2))


ENTRIES = tuple(
    Entry(
        number, f"{number:032x}", "note", f"note {number}", datetime(2025, 3, 1), "stated",
        datetime(2025, 3, 1), "0.1", (), NoteDetails(f"text {number}", None),
    )
    for number in range(1, 46)
)  # fmt: skip


def listed() -> Report:
    return list_report(ENTRIES, len(ENTRIES))


def entered() -> Report:
    return entry_report(ENTRIES[0], (("Edition", "copy 1 of 5"),), ["kept/fog.txt"])


def said(report: Report) -> list[str]:
    """All that a report says, whatever it is drawn as."""
    texts = [report.about, *report.sentences, *report.made, *report.remarks]
    if report.named:
        texts.append(report.title)
    for section in report.sections:
        texts.append(section.heading)
        for block in section.blocks:
            if isinstance(block, Points):
                for item in block.items:
                    texts += [item] if isinstance(item, str) else [item.words, *item.commands]
            elif isinstance(block, Table):
                texts += [str(cell) for row in block.rows for cell in row]
            elif isinstance(block, Facts):
                texts += [text for row in block.rows for text in row]
            elif isinstance(block, Prose | Subheading):
                texts += block.text.split("\n")
            else:
                assert isinstance(block, Picture)
    return [text for text in texts if text]


def squeezed(text: str) -> str:
    return "".join(text.split())


@pytest.mark.parametrize(
    "made",
    [
        checked,
        charted,
        stripped,
        applied,
        lit,
        behind_glass,
        glazed,
        lamped,
        listed,
        entered,
    ],
)
def test_page_pdf_and_terminal_say_the_same(made):
    report = made()
    shown = StringIO()
    show_report(report, Console(file=shown, width=90), every=True)
    pages = PdfReader(BytesIO(pdf(report))).pages
    drawn = {
        "page": unescape(re.sub("<[^>]*>", "", html(report))),
        "PDF": "".join(page.extract_text() for page in pages),
        "terminal": shown.getvalue(),
    }
    texts = said(report)
    assert len(texts) >= 2
    for way, text in drawn.items():
        missed = [one for one in texts if squeezed(one) not in squeezed(text)]
        assert not missed, way
    for section in report.sections:
        # What to do next stands after what was found.
        last = section.blocks[0].items if section.is_next else ()
        steps = (f"{k}{one.words}{''.join(one.commands)}" for k, one in enumerate(last, start=1))
        assert squeezed(drawn["terminal"]).endswith(squeezed("".join(steps)))
    step = report.next_step
    assert not shown.getvalue().endswith("\n\n")
    for text in drawn.values():
        assert step is None or all(squeezed(one) in squeezed(text) for one in step.commands)


def test_a_list_that_is_cut_says_so_and_names_are_whole_on_a_narrow_terminal():
    shown = StringIO()
    show_report(listed(), Console(file=shown, width=90))
    first = shown.getvalue().split("\n")[0].rstrip()
    assert first == "The first 40 of 45, all with --verbose or -o DIR"
    long = "a folder with a long name " * 4
    done = Applied(Path(f"{long}.tif"), 9, 6, 16, "srgb", False, "lstar", None, ())
    shown = StringIO()
    show_report(apply_report(done), Console(file=shown, width=50))
    first, *others = shown.getvalue().split("\n")
    assert first == f"{long}.tif"
    assert [line[:2] for line in others] == ["  ", "  ", ""]
    shown = StringIO()
    show_report(stripped(), Console(file=shown, width=50))
    tiffs, pdf, layouts = strips_files(STEM, 2)
    assert all(str(file) in shown.getvalue() for file in (*tiffs, pdf, *layouts))


def test_bold_is_a_verdict_and_no_file():
    for made, bold in ((checked, "certainly misread"), (charted, ""), (glazed, ""), (entered, "")):
        shown = StringIO()
        report = replace(made(), named=False, sections=())
        show_report(report, Console(file=shown, width=90, force_terminal=True))
        texts = re.findall("\x1b\\[1m(.*?)\x1b", shown.getvalue())
        assert len(texts) == bool(bold)
        assert all(bold in text for text in texts)


def test_a_share_is_not_parted_from_its_sign():
    assert "79 %" in wrapped("x " * 10 + "79 % of it", 23)
