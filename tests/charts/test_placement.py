"""Where patches go: none overlaps, all within margins, strips on bare paper, shuffled well."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greyscale.base.errors import BadInput
from greyscale.charts.chart import make_chart
from greyscale.charts.drawing import Caption, draw_page, gap_level, head_and_foot
from greyscale.charts.page import (
    PageSize,
    Sheet,
    grid_from_fields,
    page_size,
    place_patches,
    strip_letters,
)
from greyscale.charts.patches import falling_order, shuffled_order, starting_tones, with_repeats
from greyscale.charts.plan import plan_patches

CAPTION = Caption("harbour", ("4 March 2025", "33 tones even in level", "shuffled, seed 1"))


def _sheet(width, height, dpi, margin):
    head, foot = head_and_foot(CAPTION, width, margin)
    return Sheet(PageSize("page", width, height), dpi, margin, head, foot)


def _mm(sheet, pixels):
    return pixels * 25.4 / sheet.dpi


@settings(max_examples=30, deadline=None)
@given(
    width=st.floats(60, 500),
    height=st.floats(60, 700),
    dpi=st.integers(72, 720),
    margin=st.floats(0, 30),
    count=st.integers(3, 400),
    size=st.none() | st.floats(8, 30),
    seed=st.integers(0, 5),
)
def test_patches_never_overlap_and_lie_within_margins_or_are_refused(
    width, height, dpi, margin, count, size, seed
):
    sheet = _sheet(width, height, dpi, margin)
    try:
        grid = place_patches(count, sheet, size)
    except BadInput as refused:
        _check_refusal(str(refused))
        return
    device = np.random.default_rng(seed).random((count, 3))
    page = np.array([grid.page_of(i) for i in range(count)])
    boxes = np.array([(b.left, b.top, b.right, b.bottom) for b in map(grid.box, range(count))])
    left, top, right, bottom = boxes.T

    edge = sheet.pixels(margin)
    assert left.min() >= edge
    assert top.min() >= edge
    assert right.max() <= sheet.width - edge
    assert bottom.max() <= sheet.height - edge
    assert _mm(sheet, (right - left).min()) >= (size or 8) - 1e-6
    assert (right - left == bottom - top).all()

    apart = (
        (page[:, None] != page)
        | (left[:, None] >= right)
        | (right[:, None] <= left)
        | (top[:, None] >= bottom)
        | (bottom[:, None] <= top)
    )
    assert apart[~np.eye(count, dtype=bool)].all()
    assert len({grid.place(i) for i in range(count)}) == count
    for number in range(min(grid.pages, 2)):
        _check_drawing(draw_page(sheet, grid, device, CAPTION, number), sheet)


def _check_refusal(message):
    assert "too small to measure" in message


def _check_drawing(drawing, sheet):
    """No text and no mark touches a strip or the bare paper at its ends."""
    edge = sheet.pixels(sheet.margin_mm)
    for box, _ in drawing.boxes:
        assert edge <= box.left <= box.right <= sheet.width - edge
        assert edge <= box.top <= box.bottom <= sheet.height - edge


@given(st.sampled_from(["a4", "letter", "100x150mm", "329x483mm"]), st.integers(3, 256))
@settings(max_examples=10, deadline=None)
def test_every_strip_starts_and_ends_on_ten_mm_of_bare_paper(page, tones):
    chart = make_chart("harbour", tones=tones, page=page, dpi=100, code=False)
    grid = chart.grid
    for number, drawing in enumerate(chart.pages):
        free = round(10 * drawing.dpi / 25.4) - 1
        first = number * grid.strips_per_page
        for strip in range(first, min(first + grid.strips_per_page, grid.strips)):
            start = grid.box(strip * grid.per_strip)
            end = grid.box(strip * grid.per_strip + grid.strip_length(strip) - 1)
            runs = (
                (start.left - grid.gap - free, start.left - grid.gap),
                (end.right + grid.gap, end.right + grid.gap + free),
            )
            for left, right in runs:
                assert right <= drawing.width
                for box, _ in drawing.boxes:
                    beside = box.right <= left or box.left >= right
                    assert beside or box.bottom <= start.top or box.top >= start.bottom
                for letters in drawing.letters:
                    if start.top < letters.baseline < start.bottom:
                        assert letters.x < left or letters.x > right


@given(st.floats(0, 1), st.floats(0, 1))
def test_a_gap_is_a_quarter_of_the_scale_away_from_both_its_neighbours(left, right):
    gap = gap_level([left] * 3, [right] * 3)
    assert min(abs(gap - left), abs(gap - right)) >= 0.25 - 1e-12


def test_patches_too_small_to_measure_are_refused_with_the_least_size():
    with pytest.raises(BadInput, match=r"5 mm are too small.*8 mm.*--least-size"):
        make_chart("harbour", patch_mm=5.0, code=False)


def test_the_least_size_is_an_option():
    chart = make_chart("harbour", patch_mm=5.0, least_mm=5.0, code=False)
    assert chart.grid.patch / 300 * 25.4 >= 5


def test_a_page_that_holds_no_strip_is_refused():
    with pytest.raises(BadInput, match=r"no room for a strip.*too small to measure"):
        make_chart("harbour", page="60x60mm", code=False)


def test_patches_shrink_before_a_second_page_is_taken():
    one, two = (
        make_chart("a", tones=230, repeats=0, code=False),
        make_chart("b", tones=256, repeats=144, code=False),
    )
    assert len(one.pages) == 1
    assert len(two.pages) == 2
    assert one.grid.patch < 12 * 300 / 25.4
    assert two.grid.patch >= 8 * 300 / 25.4


def test_both_ends_of_a_strip_say_which_it_is_and_an_arrow_which_way_it_is_read():
    """So that a strip read backwards is seen on the page."""
    chart = make_chart("harbour", tones=33, dpi=100, code=False)
    grid, (page,) = chart.grid, chart.pages
    for strip in range(grid.strips):
        row = grid.box(strip * grid.per_strip)
        ends = [
            one.align
            for one in page.letters
            if one.text == strip_letters(strip) and row.top < one.baseline < row.bottom
        ]
        assert sorted(ends) == ["left", "right"]
        arrow = [
            (box.top, box.right - box.left)
            for box, _ in page.boxes
            if box.right < row.left - 3 * grid.gap and row.top <= box.top < row.bottom
        ]
        widths = [width for _, width in sorted(arrow)]
        middle = int(np.argmax(widths))
        assert widths[:middle] == sorted(widths[:middle])
        assert widths[middle:] == sorted(widths[middle:], reverse=True)
        assert widths[0] < widths[middle] > widths[-1]


def test_strips_are_named_on_from_page_to_page():
    chart = make_chart("harbour", tones=256, patch_mm=15.0, code=False)
    labels = [
        {letters.text for letters in page.letters if letters.text.isalpha() and letters.bold}
        for page in chart.pages
    ]
    found = sorted(set.union(*labels) - {"harbour"}, key=lambda text: (len(text), text))
    assert len(chart.pages) == 3
    assert found == [strip_letters(i) for i in range(chart.grid.strips)]


@pytest.mark.parametrize(
    ("spec", "width", "height"),
    [("a4", 210, 297), ("A4", 210, 297), ("letter", 215.9, 279.4), ("329x483mm", 329, 483)],
)
def test_page_sizes_are_those_of_their_standards(spec, width, height):
    """ISO 216:2007 (A4); 8.5 by 11 inches (ANSI/ASME Y14.1)."""
    size = page_size(spec)
    assert (size.width, size.height) == (width, height)


@pytest.mark.parametrize("spec", ["b9", "210x297", "10x10mm", "5000x5000mm", "", "x mm"])
def test_unknown_pages_are_refused(spec):
    with pytest.raises(BadInput, match="page"):
        page_size(spec)


@pytest.mark.parametrize("dpi", [0, 10, 71, 2400])
def test_resolutions_that_cannot_be_are_refused(dpi):
    with pytest.raises(BadInput, match="dpi"):
        make_chart("harbour", dpi=dpi, code=False)


def test_a_page_of_too_many_pixels_is_refused():
    with pytest.raises(BadInput, match="megapixels"):
        make_chart("harbour", page="2000x2000mm", dpi=1440, code=False)


@pytest.mark.parametrize(
    "options",
    [{"margin_mm": -1}, {"least_mm": 0}, {"patch_mm": 1e9}, {"bits": 12}, {"seed": -1}],
)
def test_numbers_that_cannot_be_are_refused(options):
    with pytest.raises(BadInput, match="not possible"):
        make_chart("harbour", **options, code=False)


def test_the_layout_tells_where_every_patch_is():
    chart = make_chart("harbour", near_neutral=True, code=False)
    assert grid_from_fields(chart.layout.fields, len(chart.layout)) == chart.grid


def test_a_layout_without_its_geometry_is_refused():
    with pytest.raises(BadInput, match="does not say where"):
        grid_from_fields({}, 3)


# The shuffle.


def _shuffled(seed, **options):
    patches = plan_patches(**options).patches
    grid = place_patches(len(patches), _sheet(210, 297, 300, 10.0))
    return patches.select(shuffled_order(patches, grid, seed).tolist()), grid


@pytest.mark.parametrize("seed", range(4))
def test_a_drift_over_the_page_does_not_look_like_one_over_tones(seed):
    """A linear drift across, down or along the reading leaves level almost untouched."""
    patches, grid = _shuffled(seed, near_neutral=True)
    index = np.arange(len(patches))
    for place in (index, index % grid.per_strip, index // grid.per_strip):
        assert abs(np.corrcoef(patches.level, place)[0, 1]) < 0.1


@pytest.mark.parametrize("seed", range(4))
def test_repeats_lie_in_different_places(seed):
    patches, grid = _shuffled(seed, near_neutral=True)
    where = np.array([divmod(i, grid.per_strip) for i in range(len(patches))])
    _, group = np.unique(patches.device, axis=0, return_inverse=True)
    distances = [
        np.abs(where[i] - where[j]).max()
        for i in range(len(patches))
        for j in range(i)
        if group[i] == group[j]
    ]
    assert min(distances) >= 2
    assert np.mean(distances) > 4


def test_the_same_seed_gives_the_same_order_and_another_another():
    patches = starting_tones(33)
    grid = place_patches(33, _sheet(210, 297, 300, 10.0))
    first, again, other = (shuffled_order(patches, grid, seed) for seed in (1, 1, 2))
    assert (first == again).all()
    assert (first != other).any()
    assert sorted(first) == list(range(33))


def test_most_neighbours_in_a_strip_differ_clearly():
    patches, grid = _shuffled(1, near_neutral=True)
    step = np.abs(np.diff(patches.device, axis=0)).max(axis=1)
    same_strip = np.arange(1, len(patches)) % grid.per_strip != 0
    # Those next to paper are alike on purpose.
    assert (step[same_strip] >= 0.06).mean() > 0.96


def test_every_page_has_paper_and_black():
    chart = make_chart("harbour", tones=256, patch_mm=15.0, code=False)
    level = chart.layout.device.mean(axis=1)
    page = np.array([chart.grid.page_of(i) for i in range(len(level))])
    for number in range(len(chart.pages)):
        assert level[page == number].min() == 0
        assert level[page == number].max() == 1


def test_without_shuffle_patches_run_from_paper_to_black_and_repeats_follow():
    patches = with_repeats(starting_tones(33), 6)
    level = patches.level[falling_order(patches)]
    assert (np.diff(level[:33]) < 0).all()
    assert (level[33:] == patches.level[33:]).all()
