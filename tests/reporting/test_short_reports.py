"""What `check`, `chart`, `apply` and `lights` say is one document each, drawn in all three ways."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from rich.console import Console

from greyscale.applying.apply import Applied
from greyscale.charts.chart import make_chart
from greyscale.checks.checking import check
from greyscale.checks.finding import Finding
from greyscale.colorimetry.light_quality import light_quality
from greyscale.colorimetry.lights import light
from greyscale.readings.formats import read
from greyscale.reporting.apply_report import apply_report
from greyscale.reporting.chart_report import chart_report
from greyscale.reporting.check_report import check_report
from greyscale.reporting.html import html
from greyscale.reporting.lights_report import lights_report
from greyscale.reporting.page import Picture, Points, Prose, Report, Table
from greyscale.reporting.pdf import pdf
from greyscale.reporting.terminal import show_report

READING = Path(__file__).parents[2] / "sample_measurements" / "cotton-rag-33-m1.txt"


def checked() -> Report:
    found = Finding("strip read backwards", "strip C", 0.999, "It was read <so>.", "Read it again.")
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


def said(report: Report) -> list[str]:
    """All that a report says, whatever it is drawn as."""
    texts = [*report.sentences]
    for section in report.sections:
        texts.append(section.heading)
        for block in section.blocks:
            assert (
                isinstance(block, Picture)
                or getattr(block, "at_once", False)
                or (report.title == "Lights")
            )
            if isinstance(block, Points):
                texts += [str(item) for item in block.items]
            elif isinstance(block, Table):
                texts += [str(cell) for row in block.rows for cell in row]
            elif isinstance(block, Prose):
                texts += block.text.split("\n")
    return [text for text in texts if text]


def squeezed(text: str) -> str:
    return "".join(text.split())


@pytest.mark.parametrize("made", [checked, charted, applied, lit])
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
        last = [squeezed(item) for item in section.blocks[0].items] if section.is_next else []
        assert squeezed(drawn["terminal"]).endswith("-".join(["", *last]))
    step = report.next_step
    for text in drawn.values():
        assert step is None or all(squeezed(one) in squeezed(text) for one in step.commands)
