"""Each figure shows the analysis's own numbers, fits its frame, and comes out the same twice."""

import gc
import re
import warnings
import weakref
from datetime import datetime, timedelta
from functools import partial
from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex
from matplotlib.dates import num2date
from matplotlib.text import Text
from support.families import family
from support.grey_readings import WAVELENGTHS, grey_spectra, reading_of

from greyscale.analysis.analyse import analyse
from greyscale.correction.settings import choose_settings
from greyscale.readings.lamps import find_light
from greyscale.reporting.figures.analysis import (
    EXAGGERATION,
    ab_path,
    metamerism_by_light,
    neutral_drift,
    ramp_strip,
    tone_curve,
)
from greyscale.reporting.figures.over_time import overview
from greyscale.reporting.figures.papers import papers_drift, settings_tones
from greyscale.reporting.lights_report import spectra_of_lights
from greyscale.reporting.style import (
    DARK,
    LIGHT,
    DrawnFigure,
    applied,
    laid_out,
    narrow,
    panels,
    rendered,
    save_figure,
    swatches,
)

FIGURES = (neutral_drift, tone_curve, ab_path, metamerism_by_light, ramp_strip)


def lines(axes):
    return {line.get_label(): line for line in axes.get_lines()}


def test_drift_shows_measured_and_aim_within_the_tolerance_band(analysis):
    figure = neutral_drift(analysis)
    for index, axes in enumerate(figure.axes[:2], start=1):
        drawn = lines(axes)
        np.testing.assert_array_equal(drawn["measured"].get_ydata(), analysis.patches.lab[:, index])
        np.testing.assert_array_equal(
            drawn["neutral aim"].get_ydata(), analysis.patches.aim_lab[:, index]
        )
        (band,) = axes.collections
        outline = band.get_paths()[0].vertices
        paper = analysis.patches.aim_lab[analysis.patches.paper_index]
        at_paper = outline[np.isclose(outline[:, 0], 1.0), 1]
        assert at_paper.max() == pytest.approx(paper[index] + 1.5)
        assert at_paper.min() == pytest.approx(paper[index] - 1.5)


def test_drift_gives_a_and_b_the_same_scale(analysis):
    a, b = (np.ptp(axes.get_ylim()) for axes in neutral_drift(analysis).axes[:2])
    assert a == pytest.approx(b)


def test_drift_names_every_cast_over_its_tones(analysis):
    axes = neutral_drift(analysis).axes[2]
    assert analysis.neutrality.casts
    names = [text.get_text() for text in axes.texts]
    assert sorted(names) == sorted(cast.hue for cast in analysis.neutrality.casts)


def test_drift_leaves_paper_and_black_out_of_delta_ch(analysis):
    drawn = neutral_drift(analysis).axes[2].get_lines()[0]
    np.testing.assert_array_equal(
        drawn.get_ydata(), analysis.patches.delta_Ch[analysis.patches.is_tone]
    )


def test_tone_curve_shows_measured_minus_aim(analysis):
    curve, error, _ = tone_curve(analysis).axes
    drawn = lines(curve)
    measured, aim = drawn["measured"], drawn["aim: lstar"]
    np.testing.assert_allclose(
        error.get_lines()[-1].get_ydata(), measured.get_ydata() - aim.get_ydata(), atol=1e-12
    )


def test_the_path_leads_from_paper_to_black_and_every_light_has_its_own_plane(analysis):
    planes = ab_path(analysis).axes
    assert [one.get_title("left") for one in planes] == ["Under D50", "Under A", "Under F11"]
    for plane, light in zip(planes, analysis.lights, strict=True):
        drawn = lines(plane)
        np.testing.assert_array_equal(drawn["measured"].get_xydata(), light.lab[:, 1:])
        paper = light.lab[light.lab[:, 0].argmax(), 1:]
        # The fading aim begins at the paper, as it is under this light (ISO 12647-2:2013, memory).
        aim = drawn["neutral aim"].get_xydata()
        assert np.hypot(*(aim - paper).T).min() == pytest.approx(0, abs=1e-9)
        if light.name != "D50":
            d50 = drawn["under D50"].get_xydata()
            np.testing.assert_array_equal(d50, analysis.patches.lab[:, 1:])
    plane = planes[0]
    heads = [text for text in plane.texts if getattr(text, "arrow_patch", None)]
    assert len(heads) == 5
    for head in heads:
        # An arrow lies on a step of the path and points the way the ramp goes on.
        tail, tip = np.array(head.xyann), np.array(head.xy)
        ab = analysis.patches.lab[:, 1:]
        steps = np.diff(ab, axis=0)
        share = np.einsum("ij,ij->i", tail - ab[:-1], steps) / np.sum(steps**2, axis=1)
        off = np.hypot(*(ab[:-1] + share[:, None] * steps - tail).T)
        off[(share < 0) | (share > 1)] = np.inf
        row = int(np.argmin(off))
        assert off[row] < 1e-9
        assert (tip - tail) @ steps[row] > 0


def test_of_many_lights_the_paths_are_drawn_that_part_most(many_lights):
    names = {one.get_title("left").removeprefix("Under ") for one in ab_path(many_lights).axes}
    others = sorted(many_lights.lights[1:], key=lambda light: -light.max_metamerism_index)
    assert names == {"D50", *(light.name for light in others[:3])}


def test_papers_have_rows_and_lights_columns_both_named_in_full(comparison):
    """What is drawn is a*, b* less the aim: the fading one, by its formula (ISO 12647-2:2013,
    memory), from the paper under each light."""
    figure = papers_drift((comparison, (0, 1, 2)))
    grid = np.array(figure.axes).reshape(3, 3)
    assert [row[0].get_title("left") for row in grid] == [one.name for one in comparison.papers]
    assert [panel.texts[0].get_text() for panel in grid[0]] == list(comparison.lights)
    for row, paper in zip(grid, comparison.papers, strict=True):
        for panel, lab in zip(row, paper.under.lab, strict=True):
            top, bottom = lab[lab[:, 0].argmax()], lab[lab[:, 0].argmin()]
            faded = 1 - 0.85 * (top[0] - lab[:, 0]) / (top[0] - bottom[0])
            drawn = lines(panel)
            for axis, name in ((1, "Δa*"), (2, "Δb*")):
                np.testing.assert_allclose(
                    drawn[name].get_ydata(), lab[:, axis] - top[axis] * faded, atol=1e-9
                )
            assert set(drawn["neutral aim"].get_ydata()) == {0}


def test_the_index_of_every_other_light_is_drawn_and_named(analysis):
    axes = metamerism_by_light(analysis).axes[0]
    others = analysis.lights[1:]
    for line, light in zip(axes.get_lines(), others, strict=True):
        np.testing.assert_array_equal(line.get_ydata(), light.metamerism_index)
    assert [text.get_text() for text in axes.texts] == [light.name for light in others]


def test_without_spectra_there_is_no_index_to_draw(without_spectra):
    with pytest.raises(ValueError, match="spectra"):
        metamerism_by_light(without_spectra)


def test_the_strip_shows_the_measured_tones_neutral_ones_and_the_cast(analysis):
    patches = analysis.patches
    order = np.argsort(patches.level)
    neutral = np.column_stack([patches.lab[:, 0], patches.aim_lab[:, 1:]])
    rows = ramp_strip(analysis).axes[0].collections
    expected = (patches.lab, neutral, neutral + EXAGGERATION * (patches.lab - neutral))
    for drawn, lab in zip(rows, expected, strict=True):
        colours = [to_hex(colour) for colour in drawn.get_facecolors()]
        assert colours == [swatch.colour for swatch in swatches(lab[order])]


@pytest.mark.parametrize("draw", FIGURES)
@pytest.mark.parametrize("look", [LIGHT, narrow(LIGHT)], ids=["wide", "phone"])
def test_no_word_runs_out_of_the_frame_or_over_another(
    analysis, hostile_analysis, many_lights, draw, look
):
    by_light = [many_lights] if draw is metamerism_by_light else []
    for one in (analysis, hostile_analysis, *by_light):
        fits(draw, one, look)


@pytest.mark.parametrize("look", [LIGHT, narrow(LIGHT)], ids=["wide", "phone"])
def test_words_of_settings_and_lights_fit_as_well(make_reading, look):
    names = ("a heavy setting for matt paper", "grey mode")
    chosen = choose_settings([make_reading(name=one, source=f"{one}.txt") for one in names])
    fits(settings_tones, chosen, look)
    fits(spectra_of_lights, [find_light("D50"), find_light("LED-B3")], look)


def fits(draw, one, look):
    """Whether no word runs out of the frame or over another."""
    with applied(look):
        figure = draw(one, look)
        figure.draw_without_rendering()
    # Of the words alone, without the hair line that leads to them.
    boxes = [(text.get_text(), Text.get_window_extent(text)) for text in words(figure)]
    assert len(boxes) >= 3
    for text, box in boxes:
        assert box.x0 >= -1, text
        assert box.x1 <= figure.bbox.x1 + 1, text
        assert box.y0 >= -1, text
        assert box.y1 <= figure.bbox.y1 + 1, text
    for (text, box), (other, other_box) in combinations(boxes, 2):
        assert not overlap(box, other_box), (text, other)


def words(figure):
    """All words of a figure but the numbers along its axes, which Matplotlib places."""
    return [
        text
        for text in figure.findobj(Text)
        if text.get_visible() and re.search(r"[^\W\d_]", text.get_text())
    ]


def overlap(one, other):
    across = min(one.x1, other.x1) - max(one.x0, other.x0)
    down = min(one.y1, other.y1) - max(one.y0, other.y0)
    return across > 1 and down > 1


@pytest.mark.parametrize("draw", family(FIGURES, [neutral_drift]))
def test_figures_are_the_same_bytes_twice_and_bear_no_date(analysis, draw, tmp_path):
    first = [path.read_bytes() for path in save_figure(draw(analysis), tmp_path / "first")]
    again = [path.read_bytes() for path in save_figure(draw(analysis), tmp_path / "again")]
    assert first == again
    assert b"<dc:date>" not in first[1]
    assert first[0].startswith(b"\x89PNG")


def test_dark_and_light_differ_in_inks_only(analysis):
    light, dark = (rendered(tone_curve(analysis, look), "svg", look) for look in (LIGHT, DARK))
    assert light != dark
    assert light.count(b"<path") == dark.count(b"<path")
    assert DARK.ground.encode() in dark


def test_the_names_of_paper_and_black_stand_apart_and_within_each_plane(analysis):
    # Of a print that is greenish in between, paper and black lie close together.
    level = np.linspace(0, 1, 33)
    green = np.exp(-(((WAVELENGTHS - 540) / 60) ** 2)) * np.sin(np.pi * level)[:, None]
    bowed = analyse(reading_of(level, spectra=grey_spectra(level) * (1 + 0.2 * green)))
    for one in (analysis, bowed):
        for look in (LIGHT, narrow(LIGHT)):
            with applied(look):
                figure = laid_out(partial(ab_path, one), look)
                FigureCanvasAgg(figure).draw()
            for plane in (axes for axes in figure.axes if axes.get_visible()):
                named = [text for text in plane.texts if text.get_text() in ("paper", "black")]
                paper, black = (text.get_window_extent() for text in named)
                assert not paper.overlaps(black)
                for box in (paper, black):
                    frame = plane.get_window_extent().padded(2)
                    assert frame.contains(*box.min)
                    assert frame.contains(*box.max)


@pytest.mark.parametrize("draw", FIGURES)
def test_three_tones_can_be_drawn(draw, three_tones):
    draw(three_tones)


@pytest.mark.parametrize("draw", [f for f in FIGURES if f is not metamerism_by_light])
def test_a_reading_without_spectra_can_be_drawn(draw, without_spectra):
    draw(without_spectra)


@pytest.mark.parametrize("draw", [neutral_drift, tone_curve, ab_path])
def test_panels_labels_and_grid_stand_where_matplotlib_itself_has_them(analysis, draw):
    """As the library lays the same figure out and draws it, without what is done to save time."""
    with applied(LIGHT):
        ours, theirs = laid_out(partial(draw, analysis), LIGHT), draw(analysis, LIGHT)
        for figure in (ours, theirs):
            figure.set_dpi(100)
            FigureCanvasAgg(figure).draw()
        for panel, plain in zip(ours.axes, theirs.axes, strict=True):
            off = panel.get_window_extent().extents - plain.get_window_extent().extents
            assert np.abs(off).max() < 2.0  # Of 750 pixels: ticks move with what the layout does.
            for axis, own in ((panel.xaxis, plain.xaxis), (panel.yaxis, plain.yaxis)):
                assert axis.get_label_text() == own.get_label_text()
                if own.get_label_text():
                    off = axis.label.get_window_extent().extents
                    assert np.abs(off - own.label.get_window_extent().extents).max() < 2.0
                low, high = sorted(own.get_view_interval())
                lines = [tick for tick in own.get_major_ticks() if tick.gridline.get_visible()]
                places = [one.get_loc() for one in lines if low <= one.get_loc() <= high]
                across = axis.axis_name == "x"
                drawn = [
                    (one.get_xdata() if across else one.get_ydata())[::3]
                    for one in panel.lines
                    if one.get_color() == LIGHT.rule
                    and np.isnan((one.get_ydata() if across else one.get_xdata())[2::3]).all()
                ]
                assert np.concatenate([[], *drawn]) == pytest.approx(places)


SPANS = ([0, 0.01], [0, 1], [0, 2, 5], [0, 2.5], [0, 40, 100], [0, 395], [0, 200, 1300, 9000])


def along_the_axis(figure):
    """All words below the last panel as they are drawn: its ticks' labels, and what they share."""
    FigureCanvasAgg(figure).draw()
    axis = figure.axes[-1].xaxis
    texts = [tick.label1 for tick in axis.get_major_ticks()] + [axis.get_offset_text()]
    texts = [text for text in texts if text.get_visible() and text.get_text()]
    for one, other in combinations(texts, 2):
        assert not overlap(one.get_window_extent(), other.get_window_extent()), (one, other)
    return texts


@pytest.mark.parametrize("look", [LIGHT, narrow(LIGHT)], ids=["wide", "phone"])
@pytest.mark.parametrize("span", SPANS)
def test_days_of_the_overview_stand_each_by_itself_and_where_they_are(span, look):
    first = datetime(2024, 9, 29, 23, 30)
    course = tuple((first + timedelta(days=day), 1.0) for day in span)
    with applied(look), warnings.catch_warnings():
        warnings.simplefilter("error")
        figure = laid_out(partial(overview, ([("rag", course)], 1.0)), look)
        texts = along_the_axis(figure)
    named = [text.get_text() for text in texts]
    assert len(set(named)) == len(named) == min(len(named), 3 if look.narrow else 5)
    assert len(named) >= (2 if span[-1] >= 1 else 1)
    assert named == [f"{num2date(text.get_position()[0]):%Y-%m-%d}" for text in texts]
    for text in texts:
        box = text.get_window_extent()
        assert box.x0 >= -1, text
        assert box.x1 <= figure.bbox.x1 + 1, text


def test_what_the_labels_of_an_axis_share_stands_beside_them():
    def drawing(look):
        figure, (panel,) = panels(look, (1.5,))
        panel.plot([1.00001e6, 1.00002e6, 1.00003e6], [0, 1, 2])
        return figure

    with applied(LIGHT):
        texts = along_the_axis(laid_out(drawing, LIGHT))
    assert texts[-1].get_text() == "+1e6"


def test_a_figure_is_drawn_once_and_let_go_when_its_forms_are_made(analysis):
    made = []

    def drawing(look):
        figure = ramp_strip(analysis, look)
        made.append(weakref.ref(figure))
        return figure

    drawn = DrawnFigure(drawing)
    forms = drawn.png, drawn.svg
    gc.collect()
    assert [one() for one in made] == [None]
    assert (drawn.png, drawn.svg) == forms
    assert len(made) == 1
