"""Reports of a correction and of its proof: true to the numbers, and fit for any screen."""

import dataclasses
import json
import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from matplotlib.text import Text
from support.corrections import LUTS, NEXT_ROUND, proof_of

import greyscale.correction.verify as verifying
from greyscale.base.errors import BadInput
from greyscale.correction.expectation import Limit
from greyscale.reporting.correction_report import (
    correction_report,
    correction_sentences,
    lut_sentences,
)
from greyscale.reporting.figures.correction import (
    before_after_colour,
    before_after_strip,
    before_after_tone,
    correction_courses,
    correction_curve,
    verification_courses,
)
from greyscale.reporting.html import html, write_report
from greyscale.reporting.style import LIGHT, applied, narrow
from greyscale.reporting.verification_report import verification_report

HOSTILE = "<script>document.title='owned'</script> $\\frac{x}$ {{ 7 * 7 }} \"quoted\" & " + "x" * 60


@pytest.fixture(scope="module")
def hostile(correction):
    """Every text that a file or an option can bring in is hostile."""
    source = dataclasses.replace(correction.evidence.sources[0], name=HOSTILE, source=HOSTILE)
    limit = dataclasses.replace(correction.limits[0], message=HOSTILE)
    return dataclasses.replace(
        correction,
        name=HOSTILE, printer=HOSTILE, paper=HOSTILE, settings=HOSTILE, aim=HOSTILE,
        follows=HOSTILE, picture=HOSTILE, remarks=(HOSTILE,), limits=(limit,),
        evidence=dataclasses.replace(correction.evidence, sources=(source,)),
    )  # fmt: skip


def figures(correction, verification):
    for shown in (correction_courses(correction), verification_courses(verification)):
        for draw in (before_after_colour, before_after_tone, before_after_strip):
            yield lambda look, draw=draw, shown=shown: draw(shown, look)
    yield lambda look: correction_curve(correction, look)


@pytest.mark.parametrize("look", [LIGHT, narrow(LIGHT)], ids=["wide", "phone"])
def test_no_word_runs_out_of_the_frame_or_over_another(correction, verification, look):
    for draw in figures(correction, verification):
        with applied(look):
            figure = draw(look)
            figure.draw_without_rendering()
        boxes = [
            (text.get_text(), text.get_window_extent())
            for text in figure.findobj(Text)
            if text.get_visible() and re.search(r"[^\W\d_]", text.get_text())
        ]
        assert len(boxes) >= 2
        for text, box in boxes:
            assert box.x0 >= -1, text
            assert box.x1 <= figure.bbox.x1 + 1, text
            assert box.y0 >= -1, text
            assert box.y1 <= figure.bbox.y1 + 1, text
        for (text, one), (other, two) in combinations(boxes, 2):
            apart = one.x1 <= two.x0 + 1 or two.x1 <= one.x0 + 1
            above = one.y1 <= two.y0 + 1 or two.y1 <= one.y0 + 1
            assert apart or above, (text, other)


def test_the_curve_figure_shows_the_channels_against_their_mean(correction):
    tone, balance, _ = correction_curve(correction).axes
    rgb = correction.curve.rgb
    drawn = {line.get_label(): line.get_ydata() for line in balance.get_lines()}
    for index, name in enumerate("RGB"):
        np.testing.assert_allclose(drawn[name], rgb[:, index] - rgb.mean(axis=1))
    (_, mean) = tone.get_lines()
    np.testing.assert_allclose(mean.get_ydata(), rgb.mean(axis=1) - correction.curve.levels)


def test_courses_are_told_apart_without_colour(verification):
    axes = before_after_colour(verification_courses(verification)).axes[2]
    styles = [(str(line._unscaled_dash_pattern), line.get_marker()) for line in axes.get_lines()]
    assert len(set(styles)) == len(styles) == 3


def test_the_figure_shows_what_was_measured(verification):
    a_panel = before_after_colour(verification_courses(verification)).axes[0]
    drawn = {line.get_label(): line for line in a_panel.get_lines()}
    for name in ("before", "predicted", "after"):
        patches = getattr(verification, name).patches
        np.testing.assert_array_equal(drawn[name].get_ydata(), patches.delta_ab[:, 0])
        np.testing.assert_array_equal(drawn[name].get_xdata(), patches.level)


def test_a_toned_prints_strips_enlarge_no_toning_as_a_cast(correction):
    """Before, the distance from neutral is enlarged; afterwards, that from the toning."""
    toned = dataclasses.replace(
        correction, toning="brown", aim_lab=np.add(correction.aim_lab, [0, 3, 9])
    )
    before, predicted = correction_courses(toned).courses
    plain = correction_courses(correction).courses[0]
    np.testing.assert_allclose(before.enlarged, plain.enlarged, atol=1e-9)
    assert np.abs(before.delta[:, 1:]).max() > 8
    np.testing.assert_allclose(predicted.enlarged, predicted.delta[:, 1:])
    names = [
        text.get_text() for text in before_after_strip(correction_courses(toned)).axes[0].texts
    ]
    assert names == ["before", "predicted", "before, cast × 4", "predicted, error × 4"]


def test_the_first_sentence_says_how_much_should_go(correction):
    assert correction_sentences(correction)[0] == (
        "Of the departure from neutral, 89 % should be removed: mean ΔCh 1.90 now (without noise), "
        "0.20 expected; largest 3.40 now, 0.25 expected (0.17 to 0.36 in four cases out of five). "
        "That holds for a print like the sheet read. No two sheets are alike: another, as sheets "
        "usually differ and answers beside the axis are supposed, should come to 0.35 (0.21 to "
        "0.65 in four cases out of five)."
    )


def test_where_the_largest_lies_is_said_if_no_proof_has_a_tone_there(correction):
    levels, lab = correction.curve.levels, correction.aim_lab.copy()
    lab[levels < 0.03, 1] += 1.6
    expected = dataclasses.replace(correction.expectation, after_max_delta_Ch=1.61)
    limit = Limit("black", 0.0, 0.03, 1.6, 0.0, "")
    blend = dataclasses.replace(
        correction, expectation=expected, limits=(limit,),
        curve=dataclasses.replace(correction.curve, lab=lab),
    )  # fmt: skip
    said = correction_sentences(blend)[0]
    assert ", below level 0.030, where the curve blends into black; elsewhere 0.25 at most." in said
    assert "elsewhere" not in correction_sentences(dataclasses.replace(blend, limits=()))[0]


def test_what_cannot_go_is_said(correction):
    sentences = correction_sentences(correction)
    assert "Below level 0.03 the ink's tint stays." in sentences
    assert "A mean ΔCh of 0.10 remains whatever is sent to this printer." in sentences
    between = [
        Limit("range", 0.1 * i, 0.1 * i + 0.05, 0.2 + 0.1 * i, 0.1, f"run {i}") for i in (1, 2, 4)
    ]
    many = dataclasses.replace(correction, limits=(*correction.limits, *between))
    assert "Below level 0.03 the ink's tint stays." in correction_sentences(many)
    assert (
        "Between levels 0.10 and 0.45 no values print the aim in 3 runs of tones; the nearest "
        "possible depart from it by up to ΔCh 0.6." in correction_sentences(many)
    )
    free = dataclasses.replace(
        correction,
        limits=(),
        expectation=dataclasses.replace(correction.expectation, unreachable_mean_delta_Ch=0.0),
    )
    assert "All tones of the aim are within the printer's reach." in correction_sentences(free)


def test_a_print_that_is_neutral_already_is_called_so(correction):
    expectation = dataclasses.replace(
        correction.expectation, before_mean_delta_Ch=0.15, after_mean_delta_Ch=0.14
    )
    neutral = dataclasses.replace(correction, expectation=expectation)
    assert "as close to neutral as the reading can tell" in correction_sentences(neutral)[0]


def test_a_supposed_answer_of_the_printer_is_called_supposed(correction):
    assert "is assumed, not measured" in correction_sentences(correction)[-1]
    measured = dataclasses.replace(correction, near_neutral=True)
    assert "was measured beside the grey axis" in correction_sentences(measured)[-1]


def test_the_luts_distance_from_the_curve_is_said():
    def said(**changes):
        return " ".join(lut_sentences(dataclasses.replace(LUTS, **changes)))

    assert "33 nodes stays within 0.042 ΔE00" in said()
    assert "More nodes" not in said()
    assert "More nodes would come closer" in said(axis_delta_E00=0.2)
    assert "More nodes" not in said(axis_delta_E00=0.2, size_3d=65)
    assert "are the curve itself" in said(axis_delta_E00=0.2, size_3d=65)
    assert "backwards" not in said()
    assert "backwards in green between the levels 0.20 and 0.40" in said(
        backwards=(None, (0.2, 0.4), None)
    )
    assert "backwards" not in said(backwards=((0.0, 1 / 255), None, None))
    assert "grey of its luminance" in said(by_luminance=True, unchanged_from=None)


@pytest.mark.usefixtures("undrawn")
def test_the_page_begins_with_the_sentence_and_a_picture(correction):
    report = correction_report(correction, LUTS, "greyscale correct a.txt -o b")
    page = html(report)
    first = correction_sentences(correction)[0]
    assert page.index(first) < page.index("<figure") < page.index("<table")
    assert "greyscale correct a.txt -o b" in page
    assert "0f0f0f0f0f0f" in page
    assert report.sections[0].heading == "What should change"


@pytest.mark.usefixtures("undrawn")
@pytest.mark.parametrize("what", ["correction", "verification"])
def test_hostile_names_are_shown_as_they_stand(hostile, what):
    if what == "correction":
        page = html(correction_report(hostile, LUTS))
    else:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(verifying, "next_round", lambda *given: NEXT_ROUND)
            toned = dataclasses.replace(hostile, toning=HOSTILE, printer=None, paper=None)
            proof = verifying.verify(proof_of(toned, name=HOSTILE), toned)
            page = html(verification_report(proof))
    assert "<script>document" not in page
    assert "&lt;script&gt;document" in page
    assert "{{ 7 * 7 }}" in page


def test_a_correction_gets_page_and_figures(correction, tmp_path):
    write_report(tmp_path, correction_report(correction, LUTS))
    assert (tmp_path / "report.html").is_file()
    names = {path.name for path in (tmp_path / "figures").iterdir()}
    assert names == {
        f"{n}.{k}" for n in ("ramps", "colour", "tone", "curve") for k in ("png", "svg")
    }


@pytest.mark.usefixtures("undrawn")
def test_a_verification_gets_page_json_and_figures(verification, tmp_path):
    page = write_report(tmp_path / "new", verification_report(verification, "greyscale"))
    assert page == tmp_path / "new" / "report.html"
    data = json.loads((tmp_path / "new" / "verification.json").read_text(encoding="utf-8"))
    after = verification.after.neutrality
    assert data["after"]["neutrality"]["mean_delta_Ch"] == after.mean_delta_Ch
    text = page.read_text(encoding="utf-8")
    assert f"{after.mean_delta_Ch:.2f}" in text
    assert NEXT_ROUND.reason in text


@pytest.mark.usefixtures("undrawn")
def test_a_verification_never_overwrites_what_it_was_made_from(verification, tmp_path):
    own = tmp_path / "report.html"
    own.write_text("the correction's report")
    with pytest.raises(BadInput, match="this is an input"):
        write_report(tmp_path, verification_report(verification), inputs=[own])
    assert own.read_text() == "the correction's report"
    assert [path.name for path in Path(tmp_path).iterdir()] == ["report.html"]
