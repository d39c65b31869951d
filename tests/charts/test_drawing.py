"""The files of a chart, read back by other means than wrote them."""

import hashlib
import shutil
import subprocess
from datetime import date
from functools import cache

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image
from support.families import family

from greyscale.charts.chart import Through, chart_files, make_chart, write_chart
from greyscale.charts.drawing import text_width
from greyscale.charts.page import grid_from_fields
from greyscale.readings.layout import read_layout

pdf_tools = pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="pdftoppm, which draws the PDF, is not installed"
)


@pytest.fixture(scope="module")
def start(tmp_path_factory):
    """Write a starting chart with near-neutral patches on A4."""
    stem = tmp_path_factory.mktemp("start") / "harbour"
    write_chart(make_chart("harbour", near_neutral=True, date=date(2025, 3, 4), code=False), stem)
    return stem


@pytest.fixture(scope="module")
def several(tmp_path_factory):
    """Write a chart of several pages, 16-bit values, another page and resolution."""
    stem = tmp_path_factory.mktemp("several") / "fog"
    chart = make_chart(
        "fog", tones=150, bits=16, page="150x200mm", dpi=240, patch_mm=9.0, code=False
    )
    write_chart(chart, stem)
    return stem


def _libtiff(path):
    return imagecodecs.tiff_decode(path.read_bytes())


@cache
def _pages(stem, read):
    layout = read_layout(stem.with_suffix(".txt"))
    grid = grid_from_fields(layout.fields, len(layout))
    paths = chart_files(stem, grid.pages)[: grid.pages]
    return layout, grid, [np.asarray(read(path)) for path in paths]


@pytest.mark.parametrize("read", [tifffile.imread, _libtiff], ids=["tifffile", "libtiff"])
@pytest.mark.parametrize("which", family(["start", "several"], ["several"]))
def test_each_patch_has_exactly_its_value_all_over_its_place(which, read, request):
    layout, grid, pages = _pages(request.getfixturevalue(which), read)
    expected = np.round(layout.device * 65535)
    for index in range(len(layout)):
        box = grid.box(index)
        page = pages[grid.page_of(index)]
        patch = page[box.top : box.bottom, box.left : box.right].reshape(-1, 3)
        assert (patch == expected[index]).all(), layout.places[index]
        assert layout.places[index] == grid.place(index)


def test_pillow_reads_the_same_values_to_the_8_bits_it_keeps(start):
    layout, grid, _ = _pages(start, tifffile.imread)
    with Image.open(start.with_suffix(".tif")) as image:
        pixels = np.asarray(image)
    for index in range(len(layout)):
        box = grid.box(index)
        middle = pixels[(box.top + box.bottom) // 2, (box.left + box.right) // 2]
        assert (middle == np.round(layout.device[index] * 255)).all()


@pytest.mark.parametrize(("which", "dpi", "mm"), [("start", 300, (210, 297))])
def test_the_tiff_is_16_bit_rgb_untagged_with_its_resolution(which, dpi, mm, request):
    """TIFF 6.0: ResolutionUnit 2 is inch; tag 34675 is the ICC profile."""
    path = request.getfixturevalue(which).with_suffix(".tif")
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        assert len(file.pages) == 1
        assert page.dtype == np.uint16
        assert page.shape == (*(round(side * dpi / 25.4) for side in mm[::-1]), 3)
        assert page.tags["XResolution"].value == (dpi, 1)
        assert page.tags["YResolution"].value == (dpi, 1)
        assert page.tags["ResolutionUnit"].value == 2
        assert 34675 not in page.tags
        assert "DateTime" not in page.tags
    with Image.open(path) as image:
        assert image.info["dpi"] == (dpi, dpi)
        assert "icc_profile" not in image.info


def test_several_pages_are_one_tiff_each_and_one_layout(several):
    layout, grid, pages = _pages(several, tifffile.imread)
    assert grid.pages == len(pages) > 1
    assert len(layout) == 150 + 13
    assert {page.shape for page in pages} == {(1890, 1417, 3)}


def test_gaps_in_the_tiff_part_all_neighbours(start):
    """Each strip, read along its middle: paper, gap, patch, gap, ..., gap, paper."""
    layout, grid, (page,) = _pages(start, tifffile.imread)
    for strip in range(grid.strips):
        first = strip * grid.per_strip
        length = grid.strip_length(strip)
        box = grid.box(first)
        row = page[(box.top + box.bottom) // 2].astype(float).mean(axis=1) / 65535
        level = np.array([1.0, *layout.device[first : first + length].mean(axis=1), 1.0])
        for number in range(length + 1):
            left = box.left - grid.gap + number * grid.step
            gap = row[left : left + grid.gap]
            assert np.ptp(gap) == 0
            assert np.abs(gap[0] - level[number : number + 2]).min() >= 0.249
        end = box.left + length * grid.step
        assert (row[box.left - grid.gap - 118 : box.left - grid.gap] == 1).all()
        assert (row[end : end + 118] == 1).all()


def _drawn_pdf(stem, dpi, folder):
    subprocess.run(
        ["pdftoppm", "-r", str(dpi), "-png", f"{stem}.pdf", str(folder / "page")], check=True
    )
    return [np.asarray(Image.open(path).convert("RGB")) for path in sorted(folder.glob("*.png"))]


@pdf_tools
@pytest.mark.parametrize(
    ("which", "dpi"), family([("start", 300), ("several", 240)], [("several", 240)], several=True)
)
def test_the_pdf_has_a_page_for_each_page_and_shows_the_same(which, dpi, request, tmp_path):
    stem = request.getfixturevalue(which)
    layout, grid, pages = _pages(stem, tifffile.imread)
    drawn = _drawn_pdf(stem, dpi, tmp_path)
    assert len(drawn) == len(pages)
    for index in range(len(layout)):
        box = grid.box(index)
        inside = drawn[grid.page_of(index)][
            box.top + 2 : box.bottom - 2, box.left + 2 : box.right - 2
        ].reshape(-1, 3)
        assert np.abs(inside - layout.device[index] * 255).max() <= 1
    for page, picture in zip(pages, drawn, strict=True):
        height, width = np.minimum(page.shape, picture.shape)[:2]
        difference = np.abs(page[:height, :width] / 257 - picture[:height, :width]).max(axis=2)
        # Only the rims of letters and boxes may differ, where pixels are partly covered.
        assert (difference > 64).mean() < 0.004


@pdf_tools
def test_the_pdf_holds_its_text_as_text(start):
    text = subprocess.run(
        ["pdftotext", f"{start}.pdf", "-"], check=True, capture_output=True, text=True
    ).stdout
    for words in ("harbour", "4 March 2025", "33 tones even in level", "Printer", "page 1 of 1"):
        assert words in text


def _digests(stem):
    return [hashlib.sha256(path.read_bytes()).hexdigest() for path in chart_files(stem, 1)]


def test_the_same_chart_is_the_same_files_byte_by_byte(tmp_path):
    for folder in ("a", "b"):
        write_chart(
            make_chart("harbour", dpi=100, date=date(2025, 3, 4), code=False),
            tmp_path / folder / "x",
        )
    assert _digests(tmp_path / "a" / "x") == _digests(tmp_path / "b" / "x")


def test_another_seed_is_another_chart():
    first, other = (make_chart("harbour", seed=seed, code=False).layout.device for seed in (1, 2))
    assert (first != other).any()
    assert sorted(first.mean(axis=1)) == sorted(other.mean(axis=1))


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("name", ["Küste & Nebel", "50 % $x_1$", "灯台", "a" * 300, " "])
def test_any_name_can_stand_in_the_caption(name, tmp_path):
    chart = make_chart(name, tones=9, dpi=72, code=False)
    write_chart(chart, tmp_path / "x")
    for letters in chart.pages[0].letters:
        if letters.align == "left":
            width = text_width(letters.text, letters.size, letters.bold)
            assert letters.x + width <= chart.pages[0].width - 10 * 72 / 25.4
    assert read_layout(tmp_path / "x.txt").name.strip() == name.strip() or not name.strip()


def test_marks_stand_in_all_corners_and_tell_which_way_up(start):
    _, _, (page,) = _pages(start, tifffile.imread)
    edge, arm = round(10 * 300 / 25.4), round(3 * 300 / 25.4)
    for flipped in (page, page[::-1], page[:, ::-1], page[::-1, ::-1]):
        assert (flipped[edge, edge : edge + arm] == 0).all()
        assert (flipped[edge : edge + arm, edge] == 0).all()
    dot = edge + round(1.8 * 300 / 25.4)
    assert (page[dot, dot] == 0).all()
    for flipped in (page[::-1], page[:, ::-1], page[::-1, ::-1]):
        assert (flipped[dot, dot] == 65535).all()


def test_a_chart_through_a_correction_prints_corrected_values_and_keeps_its_own(tmp_path):
    plain = make_chart("proof", near_neutral=True, dpi=100, code=False)
    through = Through("cotton rag", lambda device: device**1.2)
    write_chart(
        make_chart("proof", near_neutral=True, dpi=100, through=through, code=False), tmp_path / "x"
    )
    layout, grid, (page,) = _pages(tmp_path / "x", tifffile.imread)
    assert layout.device == pytest.approx(plain.layout.device, abs=1e-9)
    assert layout.fields["CHART_THROUGH"] == "cotton rag"
    for index in range(len(layout)):
        box = grid.box(index)
        printed = page[(box.top + box.bottom) // 2, (box.left + box.right) // 2]
        assert printed == pytest.approx(layout.device[index] ** 1.2 * 65535, abs=0.51)
