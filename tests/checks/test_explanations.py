"""Mistakes that leave a pattern in the whole reading: found, named, put right.

Source of the mistakes: common practice. Printers and noise are simulated and seeded.
"""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from support.families import family
from support.lab_printers import random_printer
from support.misreading import (
    Misread,
    backwards,
    chart_layout,
    clean_reading,
    late,
    paper_value,
    put_right,
    strips_of,
    swapped,
    taken,
)

from greyscale.charts.chart import make_chart
from greyscale.checks.checking import check
from greyscale.checks.finding import CheckResult
from greyscale.demo.printer import demo_printer
from greyscale.readings.layout import Layout
from greyscale.readings.reading import Reading

LAYOUT = chart_layout(3)
STRIPS = strips_of(LAYOUT)
COUNT = len(LAYOUT)


@pytest.fixture(params=[1, 2, 3])
def clean(request: pytest.FixtureRequest) -> Reading:
    return clean_reading(LAYOUT, request.param)


def kinds(result: CheckResult) -> list[str]:
    return [finding.kind for finding in result.findings]


THIRD, SIXTH, EIGHTH, TENTH, NEXT = (tuple(STRIPS[at].tolist()) for at in (2, 5, 7, 9, 10))
BACK, SHIFTED, SWAPPED = "strip read backwards", "strip shifted by one patch", "strips swapped"
MISTAKES = {
    "two strips backwards": (
        {THIRD: THIRD[::-1], SIXTH: SIXTH[::-1]}, (), [(BACK, "strip C"), (BACK, "strip F")],
    ),
    "swapped and backwards": (
        {THIRD: SIXTH, SIXTH: THIRD[::-1]}, (), [(BACK, None), (SWAPPED, "strips C and F")],
    ),
    "three at once": (
        {THIRD: THIRD[::-1], EIGHTH: (COUNT, *EIGHTH[:-1]), TENTH: NEXT, NEXT: TENTH},
        EIGHTH[-1:],
        [(BACK, "strip C"), (SHIFTED, "strip H"), (SWAPPED, "strips J and K")],
    ),
    "the sheet turned round": (
        {tuple(range(COUNT)): range(COUNT)[::-1]},
        (),
        [("sheet read from its other end", "the whole reading")],
    ),
    "every strip backwards": (
        {tuple(strip): strip[::-1] for strip in STRIPS}, (), [(BACK, "all strips")],
    ),
    "read to and fro": (
        {tuple(strip): strip[::-1] for strip in STRIPS[1::2]}, (), [(BACK, "every other strip")],
    ),
    "neighbours exchanged": (
        {(20, 21): (21, 20)},
        (),
        [("patches exchanged", f"{LAYOUT.places[20]} and {LAYOUT.places[21]}")],
    ),
    "paper read in place of a patch": (
        {(30,): (COUNT,)}, (30,), [("paper read as a patch", LAYOUT.places[30])],
    ),
}  # fmt: skip
"""Slots and the rows that were read in them, `COUNT` for paper; what is lost; what is found."""


@pytest.mark.parametrize("name", MISTAKES)
def test_mistakes_are_named_once_each_and_put_right(clean: Reading, name: str) -> None:
    moved, lost, expected = MISTAKES[name]
    rows = np.arange(COUNT)
    for slots, read in moved.items():
        rows[list(slots)] = read
    spoilt = taken(clean, rows, lost=lost)
    result = check(spoilt.reading, LAYOUT)
    found = sorted((one.kind, one.where) for one in result.findings)
    assert [kind for kind, _ in found] == [kind for kind, _ in expected]
    assert all(
        there in (None, where) for (_, where), (_, there) in zip(found, expected, strict=True)
    )
    assert [name for one in result.findings for name in one.lost] == [LAYOUT.ids[i] for i in lost]
    assert put_right(spoilt, result.repaired)


def test_strips_in_another_order(clean: Reading) -> None:
    order = [0, 2, 3, 1, *range(4, len(STRIPS))]
    spoilt = taken(clean, np.concatenate([STRIPS[index] for index in order]))
    result = check(spoilt.reading, LAYOUT)
    (finding,) = result.findings
    assert finding.kind == "strips read in another order"
    assert "Under the names of strips B, C, D stand the values of strips C, D, B." in finding.found
    assert put_right(spoilt, result.repaired)


def test_a_strip_read_twice_leaves_the_other_one_out(clean: Reading) -> None:
    rows = np.arange(COUNT)
    rows[STRIPS[4]] = STRIPS[3]
    spoilt = taken(clean, rows, lost=STRIPS[4])
    # A second reading has noise of its own.
    again = np.random.default_rng(5).normal(0, 0.15, (len(STRIPS[4]), 3))
    lab = spoilt.reading.lab.copy()
    lab[STRIPS[4]] += again
    result = check(replace(spoilt.reading, lab=lab), LAYOUT)
    (finding,) = result.findings
    assert finding.kind == "strip read twice"
    assert re.fullmatch(r"strip (\w+) instead of strip (\w+)", finding.where)
    assert finding.lost == tuple(LAYOUT.ids[index] for index in STRIPS[4])
    assert put_right(spoilt, result.repaired)


@pytest.mark.parametrize("too_early", [True, False])
def test_a_slip_that_runs_on_to_the_end(clean: Reading, too_early: bool) -> None:
    rest = np.arange(COUNT)
    rows = (
        np.concatenate([rest[:40], rest[41:], [COUNT]])
        if too_early
        else np.concatenate([rest[:40], [COUNT], rest[40:-1]])
    )
    lost = 40 if too_early else COUNT - 1
    spoilt = taken(clean, rows, lost=[lost])
    result = check(spoilt.reading, LAYOUT)
    (finding,) = result.findings
    assert finding.kind == "reading shifted by one patch"
    assert finding.lost == (LAYOUT.ids[lost],)
    assert put_right(spoilt, result.repaired)


@pytest.mark.parametrize("at", [0, 40])
def test_a_patch_read_twice_loses_the_last_one_wherever_the_slip_began(
    clean: Reading, at: int
) -> None:
    """Either of the two values may be the surplus one."""
    rest = np.arange(COUNT)
    spoilt = taken(clean, np.concatenate([rest[: at + 1], rest[at:-1]]), lost=[COUNT - 1])
    (finding,) = check(spoilt.reading, LAYOUT).findings
    assert finding.kind == "reading shifted by one patch"
    assert finding.found.endswith(
        f": a patch was read twice. {LAYOUT.places[-1]} was not measured."
    )


def test_one_measurement_too_few_is_the_skipped_patch_not_the_last(clean: Reading) -> None:
    fewer = clean.select(np.arange(COUNT - 1))
    reading = replace(fewer, lab=np.delete(clean.lab, 40, axis=0))
    result = check(reading, LAYOUT)
    (finding,) = result.findings
    assert finding.lost == (LAYOUT.ids[40],)
    assert put_right(Misread(reading, clean, (40,)), result.repaired)


def test_one_measurement_too_many_loses_nothing(clean: Reading) -> None:
    reading = replace(
        clean,
        ids=(*clean.ids, "one more"),
        device=np.vstack([clean.device, [[1.0, 1.0, 1.0]]]),
        places=None,
        lab=np.insert(clean.lab, 40, paper_value(clean), axis=0),
    )
    result = check(reading, LAYOUT)
    assert kinds(result) == ["reading shifted by one patch"]
    assert put_right(Misread(reading, clean), result.repaired)


def test_a_strip_that_fits_nowhere_is_not_repaired(clean: Reading) -> None:
    lab = clean.lab.copy()
    strip = STRIPS[6]
    lab[strip] = np.random.default_rng(8).uniform([20, -5, -5], [90, 5, 5], (len(strip), 3))
    result = check(replace(clean, lab=lab), LAYOUT)
    assert result.certain
    assert [(f.kind, f.where) for f in result.findings] == [("strip does not fit", "strip G")]
    assert result.repaired is None


def test_what_was_set_aside_stays_in_the_repaired_reading(clean: Reading) -> None:
    lab = clean.lab.copy()
    lab[STRIPS[1][4]] += [9.0, 6.0, -6.0]
    spoilt = backwards(replace(clean, lab=lab), STRIPS[1])
    result = check(spoilt.reading, LAYOUT)
    assert result.repaired is not None
    np.testing.assert_array_equal(result.repaired.lab, lab)


@pytest.mark.parametrize(
    ("tones", "shuffle"),
    family(
        product([17, 33, 65], [True, False]), [(17, True), (33, False), (65, True)], several=True
    ),
)
def test_charts_of_tones_alone_do_too(tones: int, shuffle: bool) -> None:
    layout = make_chart("tones", tones=tones, shuffle=shuffle, seed=4, code=False).layout
    strips = strips_of(layout)
    for seed in range(10):
        clean = clean_reading(layout, seed)
        assert check(clean, layout).clean
        strip = strips[seed % len(strips)]
        spoilt = [backwards(clean, strip), swapped(clean, strips, 0, 1)]
        # In a chart from paper to black a shift is a step of the tone curve, which may be so.
        spoilt += [late(clean, strip)] if shuffle else []
        for one in spoilt:
            assert put_right(one, check(one.reading, layout).repaired)


def _of_strips(layout: Layout, *names: str) -> np.ndarray:
    return np.array([place.rstrip("0123456789") in names for place in layout.places])


def test_two_sheets_mixed_wet_and_dry(clean: Reading) -> None:
    # The print of cotton rag measures about ΔE 1 darker when fresh.
    printer = demo_printer()
    dry = printer.measure(LAYOUT.ids, LAYOUT.device, places=LAYOUT.places, seed=1)
    wet = printer.measure(LAYOUT.ids, LAYOUT.device, places=LAYOUT.places, seed=2, hours=0.1)
    fresh = _of_strips(LAYOUT, "K", "L", "M", "N")
    mixed = replace(dry, lab=np.where(fresh[:, None], wet.lab, dry.lab), spectra=None)
    result = check(mixed, LAYOUT)
    assert [(f.kind, f.where) for f in result.findings] == [("two sheets mixed", "strips K to N")]
    assert "L* −0." in result.findings[0].found


@pytest.mark.parametrize("other", ["baryta", "kozo"])
def test_two_papers_mixed(other: str) -> None:
    readings = [
        demo_printer(paper).measure(LAYOUT.ids, LAYOUT.device, places=LAYOUT.places, seed=3)
        for paper in ("cotton rag", other)
    ]
    later = _of_strips(LAYOUT, "L", "M", "N")
    lab = np.where(later[:, None], readings[1].lab, readings[0].lab)
    result = check(replace(readings[0], lab=lab, spectra=None), LAYOUT)
    assert result.certain
    assert [(f.kind, f.where) for f in result.findings] == [("two sheets mixed", "strips L to N")]
    assert result.findings[0].found.startswith("Strips L to N measure differently")


@pytest.mark.parametrize("period", [4.0, 7.0, 11.0])
def test_bands_of_a_print_are_no_second_sheet(clean: Reading, period: float) -> None:
    """Ink by turns heavier and lighter over the strips: paper and black stay as they are."""
    level = LAYOUT.device.mean(axis=1)
    lab = clean.lab.copy()
    for number, strip in enumerate(strips_of(LAYOUT)):
        band = 1.2 * np.sin(2 * np.pi * number / period)
        lab[strip, 0] += band * 4 * level[strip] * (1 - level[strip])
    banded = replace(clean, lab=lab, spectra=None)
    result = check(banded, LAYOUT)
    assert [finding.kind for finding in result.findings] == ["bands in the print"]
    assert not result.certain


@pytest.mark.parametrize(("apart", "misread"), [(1.3, False), (3.0, True)])
def test_strips_of_another_sheet_are_refused_where_it_is_plainly_another(
    clean: Reading, apart: float, misread: bool
) -> None:
    later = _of_strips(LAYOUT, "L", "M", "N")
    mixed = replace(clean, lab=clean.lab + later[:, None] * [0.0, 0.0, apart], spectra=None)
    (finding,) = check(mixed, LAYOUT).findings
    assert (finding.kind, finding.where) == ("two sheets mixed", "strips L to N")
    assert finding.misread is misread


def test_one_strip_of_another_sheet() -> None:
    layout = chart_layout(1)
    dry, wet = (
        demo_printer().measure(layout.ids, layout.device, places=layout.places, seed=3, hours=hours)
        for hours in (100.0, 0.1)
    )
    later = _of_strips(layout, "E")
    lab = np.where(later[:, None], wet.lab, dry.lab)
    (finding,) = check(replace(dry, lab=lab, spectra=None), layout).findings
    assert (finding.kind, finding.where) == ("two sheets mixed", "strip E")
    assert finding.found.startswith("Strip E measures differently")


def _with_middle(tone: str) -> tuple[tuple[str, str], tuple[str, str]]:
    return (tone, "middle tones"), ("middle tones", tone)


@pytest.mark.parametrize(("tone", "size"), [("black", 2.5), ("paper", -2.5)])
def test_black_or_paper_that_changes_over_the_page(clean: Reading, tone: str, size: float) -> None:
    level = LAYOUT.device.mean(axis=1)
    across = np.concatenate(
        [np.full(len(s), i / (len(STRIPS) - 1) - 0.5) for i, s in enumerate(STRIPS)]
    )
    weight = level**3 if tone == "paper" else (1 - level) ** 3
    lab = clean.lab.copy()
    lab[:, 0] += size * across * weight
    result = check(replace(clean, lab=lab), LAYOUT)
    (finding,) = result.findings
    assert finding.kind == "change over the page"
    # An eighth of the change reaches the middle tones, which may be named as well.
    assert finding.where in (tone, *(" and ".join(n) for n in _with_middle(tone)))
    assert not result.certain
    assert f"L* {'+' if size > 0 else '−'}" in finding.found


def test_a_printer_that_prints_darker_towards_the_end(clean: Reading) -> None:
    reading = demo_printer().measure(
        LAYOUT.ids, LAYOUT.device, places=LAYOUT.places, page_drift=0.08, seed=2
    )
    (finding,) = check(reading, LAYOUT).findings
    assert finding.kind == "change over the page"
    assert "from strip A to strip N" in finding.found


def test_probabilities_are_honest_about_a_patch_that_measures_as_its_neighbour() -> None:
    layout = make_chart("tones", tones=17, seed=2, code=False).layout
    clean = random_printer(3, bits=8).measure(layout.ids, layout.device, places=layout.places)
    strip = strips_of(layout)[0]
    for start in range(len(strip) - 1):
        result = check(late(clean, strip, start).reading, layout)
        for finding in result.findings:
            assert 0.5 <= finding.probability <= 1.0
            assert finding.certainty in ("certain", "likely", "possible")
