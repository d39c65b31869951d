"""The PDF of a report: the same words in the same order, whole, accessible, for A4."""

import builtins
import re
import subprocess
from io import BytesIO

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image
from pypdf import PdfReader
from support.browser import needs_pdftoppm
from support.families import family

from greyscale.base.errors import BadInput
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.html import write_report
from greyscale.reporting.page import (
    Picture,
    Report,
    Section,
    Switch,
    Table,
    pictures,
)
from greyscale.reporting.pdf import pdf

KINDS = family(
    ("analysis", "analyses", "comparison", "correction", "verification", "drying", "trend"),
    ("analysis",),
)
MM = 72 / 25.4


class Files(dict[str, bytes]):
    """The PDF of each kind of report, made when it is asked for."""

    def __init__(self, reports) -> None:
        self.reports = reports

    def __missing__(self, kind: str) -> bytes:
        self[kind] = pdf(self.reports[kind])
        return self[kind]


@pytest.fixture(scope="module")
def files(reports):
    return Files(reports)


def text_of(file: bytes) -> str:
    pages = PdfReader(BytesIO(file)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def squeezed(text: str) -> str:
    """Without spaces: where lines break is the page's affair."""
    return "".join(text.split())


@pytest.mark.parametrize("kind", KINDS)
def test_it_says_all_that_the_report_says_in_its_order(files, reports, kind):
    report = reports[kind]
    text = squeezed(text_of(files[kind]))
    place = -1
    for part in (report.kind, report.title, *report.lead, *(s.heading for s in report.sections)):
        place = text.index(squeezed(part), place + 1)
    for name, value in report.facts:
        assert squeezed(name) in text
        assert squeezed(value)[:60] in text
    for caution in report.cautions:
        assert squeezed(caution)[:80] in text
    assert squeezed(report.command) in text
    for picture in pictures(report.sections):
        assert squeezed(picture.caption)[:60] in text


@pytest.mark.parametrize("kind", KINDS)
def test_every_number_of_every_table_is_there(files, reports, kind):
    text = text_of(files[kind])
    words = set(text.split())
    for table in tables(reports[kind]):
        for row in table.rows:
            for column, cell in enumerate(row):
                if isinstance(cell, str) and column not in table.words and " " not in cell:
                    assert cell in words, cell


def tables(report):
    for section in report.sections:
        for block in section.blocks:
            inner = (
                [one for _, case in block.cases for one in case]
                if isinstance(block, Switch)
                else [block]
            )
            yield from (one for one in inner if isinstance(one, Table))


@pytest.mark.parametrize("kind", KINDS)
def test_it_tells_readers_and_screen_readers_what_it_is(files, reports, kind):
    report = reports[kind]
    reader = PdfReader(BytesIO(files[kind]))
    catalogue = reader.trailer["/Root"]
    assert reader.metadata.title == f"{report.title}: {report.kind}"
    assert reader.metadata.creation_date is None
    assert catalogue["/Lang"] == "en-GB"
    assert catalogue["/ViewerPreferences"]["/DisplayDocTitle"]
    assert catalogue["/MarkInfo"]["/Marked"]
    alts = [
        part.get_object()["/Alt"]
        for part in catalogue["/StructTreeRoot"]["/K"][0].get_object()["/K"]
    ]
    assert alts == [picture.alt for picture in pictures(report.sections)]
    headings = [entry.title for entry in reader.outline if not isinstance(entry, list)]
    assert headings[: len(report.sections)] == [section.heading for section in report.sections]


@pytest.mark.parametrize("kind", KINDS)
def test_figures_are_lines_and_letters_are_in_the_file(files, kind):
    reader = PdfReader(BytesIO(files[kind]))
    for page in reader.pages:
        assert page.mediabox.width == pytest.approx(210 * MM, abs=0.5)
        assert page.mediabox.height == pytest.approx(297 * MM, abs=0.5)
        resources = page["/Resources"]
        assert not any(
            one.get_object()["/Subtype"] == "/Image"
            for one in resources.get("/XObject", {}).values()
        )
        for font in resources["/Font"].values():
            for descendant in font.get_object()["/DescendantFonts"]:
                descriptor = descendant.get_object()["/FontDescriptor"].get_object()
                assert "/FontFile2" in descriptor


def test_the_signs_of_the_field_are_printed():
    signs = "Δ E* ′ ″ − ± × ≤ ° β λ ✓ ✗ → ² – “ ” é"
    assert signs in text_of(pdf(Report("kind", "title", (signs,), ())))


def test_the_same_report_is_the_same_file(files, reports):
    assert pdf(reports["analysis"]) == files["analysis"]


def table_report(rows: int, **changes) -> Report:
    cells = tuple((f"word {i}", f"{i}.00", f"{i}.50") for i in range(rows))
    table = Table(("name", "first", "second"), cells, "Many rows", frozenset({0}))
    return Report("kind", "title", ("lead",), (Section("Rows", (table,)),), **changes)


def test_a_long_table_repeats_its_head_on_every_sheet_and_parts_no_row():
    pages = [page.extract_text() for page in PdfReader(BytesIO(pdf(table_report(150)))).pages]
    with_rows = [text for text in pages if re.search(r"\d\.50", text)]
    assert len(with_rows) >= 3
    for text in with_rows:
        assert text.count("second") == 1
    for i in range(150):
        holding = [text for text in with_rows if re.search(rf"word {i}\s+{i}\.00\s+{i}\.50", text)]
        assert len(holding) == 1


@needs_pdftoppm
def test_pictures_in_a_figure_lie_where_it_has_them(tmp_path):
    """A dark one on the left, a light one on the right."""

    def dark_and_light(look) -> Figure:
        figure = Figure(figsize=(6, 3))
        for axes, tone in zip(figure.subplots(1, 2), (0, 200), strict=True):
            axes.set_axis_off()
            axes.imshow(np.full((40, 40, 3), tone, dtype=np.uint8), interpolation="none")
        return figure

    section = Section("Pictures", (Picture(dark_and_light, "two", "two"),))
    file = tmp_path / "two.pdf"
    file.write_bytes(pdf(Report("kind", "title", ("lead",), (section,))))
    subprocess.run(["pdftoppm", "-r", "20", "-gray", "-png", file, tmp_path / "page"], check=True)
    sheet = np.asarray(Image.open(next(tmp_path.glob("page-*.png"))).convert("L"))
    dark, light = np.argwhere(sheet < 20), np.argwhere(abs(sheet.astype(int) - 200) < 5)
    assert len(dark) > 1000
    assert len(light) > 1000
    assert np.percentile(dark[:, 1], 95) < np.percentile(light[:, 1], 5)


@pytest.mark.parametrize("kind", KINDS)
def test_a_caption_is_on_the_sheet_of_its_figure(files, reports, kind):
    reader = PdfReader(BytesIO(files[kind]))
    root = reader.trailer["/Root"]["/StructTreeRoot"]["/K"][0].get_object()
    texts = {page.indirect_reference.idnum: squeezed(page.extract_text()) for page in reader.pages}
    for part, picture in zip(root["/K"], pictures(reports[kind].sections), strict=True):
        page = part.get_object().raw_get("/Pg").idnum
        assert squeezed(picture.caption)[:50] in texts[page]


@needs_pdftoppm
@pytest.mark.parametrize("kind", KINDS)
def test_nothing_runs_over_the_margins(files, tmp_path, kind):
    file = tmp_path / "report.pdf"
    file.write_bytes(files[kind])
    command = ["pdftoppm", "-r", "40", "-gray", "-png", file, tmp_path / "page"]
    subprocess.run(command, check=True, stdin=subprocess.DEVNULL)
    sheets = [Image.open(path).convert("L") for path in sorted(tmp_path.glob("page-*.png"))]
    assert len(sheets) >= 2
    for sheet in sheets:
        width, height = sheet.size
        margin = int(14 / 25.4 * 40)
        for edge in ((0, 0, margin, height), (width - margin, 0, width, height),
                     (0, 0, width, margin)):  # fmt: skip
            darkest, _ = sheet.crop(edge).getextrema()
            assert darkest >= 250


@pytest.mark.usefixtures("undrawn")
def test_hostile_names_are_printed_as_they_stand(hostile_analysis):
    report = analysis_report([hostile_analysis], "greyscale analyse '<script>'")
    text = squeezed(text_of(pdf(report)))
    assert "</script></title><script>document.title='owned'</script>" in text
    assert "{{7*7}}" in text


def test_names_in_any_script_and_with_control_characters_do_no_harm(capfd):
    name = "岬の灯台 \x00\x1b[31m\n\u202e" + "x" * 300
    report = Report(name, name, (name,), (Section(name, (Table((name,), ((name,),)),)),),
                    ((name, name),), (name,), name)  # fmt: skip
    assert pdf(report).startswith(b"%PDF-")
    assert capfd.readouterr().err == ""


def test_without_what_writes_pdf_it_says_what_to_install(monkeypatch, tmp_path):
    real = builtins.__import__

    def without(name, *rest, **more):
        if name.split(".")[0] == "fpdf":
            raise ModuleNotFoundError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(BadInput, match="pip install fpdf2"):
        write_report(tmp_path / "out", table_report(3), pdf=True)
    assert not (tmp_path / "out").exists()


def test_it_is_written_beside_the_page_and_over_no_input(tmp_path):
    page = write_report(tmp_path, table_report(3), pdf=True)
    assert page == tmp_path / "report.html"
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF-")
    with pytest.raises(BadInput, match="input"):
        write_report(tmp_path, table_report(3), inputs=[tmp_path / "report.pdf"], pdf=True)
