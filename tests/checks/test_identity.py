"""A chart says which it is, on simulated printers with their instrument's noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.array_printers import halftone_printer, tr006_printer

from greyscale.analysis.analyse import analyse
from greyscale.base.errors import BadInput
from greyscale.charts.chart import Chart, Through, make_chart
from greyscale.checks.checking import check, refuse_if_misread
from greyscale.checks.identity import (
    LENGTH,
    SYMBOLS,
    code_levels,
    doubt_of_sending,
    proof_words,
    read_levels,
    read_lightness,
    sent_otherwise,
    stated_and_measured,
    through_of,
)
from greyscale.correction.evidence import check_reading
from greyscale.demo.printer import demo_printer
from greyscale.readings.assemble import LACKING
from greyscale.readings.formats import read
from greyscale.readings.iso28178 import SKIPPED
from greyscale.readings.reading import Reading

TITLES = ["Harbour light", "Harbour light, round 2"]
PRINTERS = {
    "spectral": demo_printer().lab,
    "TR 006": tr006_printer().lab,
    "black by least ink": halftone_printer(0.45).lab,
}


def bent(device):
    """A correction that bends the tones by a fifth."""
    return device**1.2


def chart(through: str | None = None, **options) -> Chart:
    sent = None if through is None else Through(through, bent)
    return make_chart("start", tones=21, dpi=72, code=True, through=sent, **options)


def printed(made: Chart, lab=PRINTERS["spectral"], seed: int = 0, noise: float = 0.15) -> Reading:
    """The chart's print as it is measured: what was sent is what its own correction makes."""
    device = made.layout.device
    sent = device if made.through is None else bent(device)
    return Reading(
        name="start",
        source="start-reading.txt",
        ids=made.layout.ids,
        device=device,
        lab=lab(sent) + np.random.default_rng(seed).normal(0.0, noise, device.shape),
        places=made.layout.places,
    )


def test_every_number_is_written_and_read_and_no_neighbours_are_alike():
    for number in range(4096):
        levels = code_levels(number)
        assert read_levels(levels) == number
        assert np.abs(np.diff(levels)).min() > 0.3
        assert levels[:4].tolist() == list(SYMBOLS)


def test_charts_that_were_printed_before_are_still_recognised():
    """What a number is written as must stay: sheets in drawers say it."""
    before = {
        0: [3, 2, 1, 0, 3, 1, 0, 1, 3, 2, 3, 2, 3, 2, 3, 2],
        1234: [3, 2, 1, 0, 1, 0, 3, 1, 3, 0, 3, 2, 3, 0, 1, 3],
        4095: [3, 2, 1, 0, 3, 2, 0, 2, 3, 2, 0, 1, 2, 0, 1, 0],
    }
    for number, thirds in before.items():
        assert code_levels(number) == pytest.approx(np.array(thirds) / 3)


@pytest.mark.parametrize("L", [[95.0, 90.0, 50.0, 15.0], [95.0, 60.0, 55.0, 15.0],
                               [95.0, 55.0, 20.0, 15.0]])  # fmt: skip
def test_a_patch_that_may_be_either_of_two_greys_makes_no_code(L):
    """However unlike the gaps: that to the nearer of the greys beside it counts."""
    levels = code_levels(1234)
    symbols = [SYMBOLS.index(level) for level in levels]
    clear = np.array(L)[symbols]
    gaps = np.abs(np.diff(L))
    for place in range(4, LENGTH):
        symbol = symbols[place]
        nearer = min(gaps[max(symbol - 1, 0) : symbol + 1])
        for share, said in ((0.35, 1234), (0.45, None)):
            for sign in (-1, 1):
                moved = clear.copy()
                moved[place] += sign * share * nearer
                assert read_lightness(moved) == said


def test_what_is_no_code_is_hardly_ever_taken_for_one():
    """The check sum lets one of 128 pass; that no neighbours are alike, fewer still."""
    random = np.random.default_rng(1)
    L = np.array([95.0, 65.0, 35.0, 15.0])
    found = [read_lightness(np.concatenate([L, random.choice(L, LENGTH - 4)])) for _ in range(4000)]
    assert np.mean([one is not None for one in found]) < 1 / 128
    assert read_lightness(np.linspace(95, 15, LENGTH)) is None


@pytest.mark.parametrize("printer", PRINTERS)
@pytest.mark.parametrize("through", [None, *TITLES])
def test_the_print_says_which_chart_it_is(printer, through):
    made = chart(through)
    for seed in range(5):
        reading = printed(made, PRINTERS[printer], seed, noise=0.5)
        stated, measured = stated_and_measured(reading)
        assert stated == measured
        assert stated is not None
        assert through_of(reading, TITLES) == (through or "")


def test_a_sheet_taken_for_another_is_named():
    """The layout of seed 2 was given for the sheet of seed 1."""
    sheet, other = printed(chart(seed=1)), chart(seed=2)
    mistaken = replace(sheet, device=other.layout.device)
    first = check(mistaken, other.layout).findings[0]
    assert (first.kind, first.certainty) == ("another chart", "certain")
    with pytest.raises(BadInput, match="certainly misread: another chart"):
        refuse_if_misread(mistaken, other.layout)
    assert check(sheet, chart(seed=1).layout).clean


def test_a_chart_sent_without_its_correction_is_named():
    """The layout of the proof was given, but the sheet is that of the chart without it."""
    proof, plain = chart(TITLES[0]), chart()
    mistaken = replace(
        printed(plain), device=proof.layout.device, sent_through=TITLES[0]
    )  # fmt: skip
    found = check(mistaken, proof.layout).findings[0]
    assert "the same chart, sent without the correction 'Harbour light'" in found.found


def test_a_proof_that_is_taken_for_a_first_chart_is_asked_about():
    """Nothing is asked of ordinary charts, nor where values were rounded, or no code is there."""
    plain, proof = printed(chart()), printed(chart(TITLES[0]))
    assert "taken as sent without a correction, but" in str(doubt_of_sending(proof))
    assert f"sent through '{TITLES[1]}', but" in str(doubt_of_sending(proof, TITLES[1]))
    assert sent_otherwise(proof)
    assert sent_otherwise(proof, TITLES[1])
    assert doubt_of_sending(proof, TITLES[0]) is None
    assert doubt_of_sending(plain) is None
    assert doubt_of_sending(replace(proof, device=np.round(proof.device, 3))) is None
    assert doubt_of_sending(printed(make_chart("start", tones=21, dpi=72, code=False))) is None


def test_a_proof_is_said_to_be_one_and_corrected_from_only_as_a_next_round():
    """By its layout, or by its own code; an analysis says so first."""
    plain, proof = printed(chart()), printed(chart(TITLES[0]))
    stated = replace(proof, sent_through=TITLES[0])
    assert proof_words(plain) == ()
    assert "through the correction 'Harbour light', its layout" in analyse(stated).remarks[0]
    assert analyse(proof).remarks[0].startswith("A proof, no uncorrected print, if no patches")
    check_reading(plain, None)
    check_reading(proof, TITLES[0])
    check_reading(proof.taken_as_it_is(), None)
    for through, by in (
        (None, "a correction"),
        (TITLES[1], f"another correction than '{TITLES[1]}'"),
    ):
        with pytest.raises(
            BadInput, match=rf"was sent through {by}; a next .* missing, .*--layout"
        ):
            check_reading(proof, through)


@pytest.mark.parametrize("own", [True, False])
def test_the_layout_settles_whether_a_first_chart_lacks_its_last_patches(own, tmp_path):
    """Without it such a chart cannot be told from a proof, and both are named as what it may be."""
    made = chart()
    short = printed(made).select(range(len(made.layout) - 2))
    file, sent = tmp_path / "short.csv", short.device[:, : 3 * own]
    names = ["SAMPLE_ID", *["RGB_R", "RGB_G", "RGB_B"][: 3 * own], "LAB_L", "LAB_A", "LAB_B"]
    values = np.column_stack([np.arange(len(short)) + 1, 255 * sent, short.lab])
    np.savetxt(file, values, "%.6g", ",", header=",".join(names), comments="")
    reading = read(file, layout=made.layout)
    assert reading.remarks[-1] == f"{LACKING}: {', '.join(made.layout.places[-2:])}."
    assert proof_words(reading) == ()
    assert doubt_of_sending(reading) is None
    check_reading(reading, None)
    # That it is held to be a proof, the layout does not bear out.
    assert "was sent otherwise, unless patches are missing" in str(
        doubt_of_sending(reading, TITLES[0])
    )
    if own:
        alone = read(file)
        (words,) = proof_words(alone)
        assert words.startswith("A proof, no uncorrected print, if no patches at its end are miss")
        with pytest.raises(BadInput, match=r"patches at its end are missing, .* \(--layout\)"):
            check_reading(alone, None)
        # The layout of another chart settles nothing.
        assert read(file, layout=chart(seed=2).layout).remarks == alone.remarks


def test_a_chart_without_a_code_is_as_before():
    made = make_chart("start", tones=21, dpi=72, code=False)
    reading = printed(made)
    assert stated_and_measured(reading) == (None, None)
    assert through_of(reading, TITLES) is None
    assert check(reading, made.layout).clean
    with_code = chart()
    # Of five repeats two stay: the code holds the others.
    assert len(with_code.layout) == len(made.layout) + LENGTH - 3
    assert with_code.layout.reasons[:LENGTH] == ("code",) * LENGTH


def test_patches_that_are_missing_say_nothing_wrong():
    reading = printed(chart(TITLES[0]))
    rows = [row for row in range(len(reading)) if row != 30]
    assert through_of(reading.select(rows), TITLES) is None
    assert not sent_otherwise(reading.select(rows), TITLES[0])
    skipped = replace(reading.select(range(len(reading) - 3)), remarks=(f"{SKIPPED}: 158.",))
    assert not sent_otherwise(skipped, TITLES[0])
    assert "unless patches are missing" in str(doubt_of_sending(reading.select(rows), TITLES[0]))
    assert not [f for f in check(reading.select(rows)).findings if f.kind == "another chart"]
