"""A reading laid over its chart: which layouts fit, and which do not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from support.misreading import backwards, chart_layout, clean_reading, put_right, strips_of

from greyscale.base.errors import BadInput
from greyscale.checks.case import lay_out
from greyscale.checks.checking import check, refuse_if_misread
from greyscale.readings.formats import read

TR006 = Path(__file__).parents[2] / "sample_measurements" / "tr006-grey.txt"
LAYOUT = chart_layout(3)
STRIPS = strips_of(LAYOUT)
COUNT = len(LAYOUT)
CLEAN = clean_reading(LAYOUT, 1)


def test_the_layout_of_another_shuffle_is_found_out() -> None:
    # Its device values travel with the layout: the reading was assembled from the wrong one.
    other = clean_reading(chart_layout(4), 1)
    reading = replace(CLEAN, lab=other.lab[: len(CLEAN)])
    result = check(reading, LAYOUT)
    (finding,) = result.findings
    assert (finding.kind, finding.certainty) == ("wrong layout", "certain")
    assert result.repaired is None


def test_amounts_of_ink_taken_for_levels_are_found_out() -> None:
    reading = replace(CLEAN, device=1.0 - CLEAN.device)
    (finding,) = check(reading).findings
    assert finding.kind == "levels upside down"
    assert finding.certainty == "certain"


def test_a_layout_with_other_device_values_is_refused_with_the_patch() -> None:
    other = chart_layout(5)
    with pytest.raises(BadInput, match=r"does not fit the reading.*other device values; patch"):
        check(CLEAN, other)


@pytest.mark.parametrize("change", [-0.02, 0.02])
@pytest.mark.parametrize("index", [0, COUNT - 1])
def test_a_layout_that_differs_in_one_patch_alone_is_refused_with_that_patch(
    index: int, change: float
) -> None:
    device = LAYOUT.device.copy()
    device[index] += change
    named = rf"1 of {COUNT} patches.*patch {LAYOUT.ids[index]} is"
    with pytest.raises(BadInput, match=named):
        check(CLEAN, replace(LAYOUT, device=device))


def test_a_layout_of_another_chart_is_refused() -> None:
    fewer = replace(CLEAN.select(np.arange(60)), ids=tuple(f"x{i}" for i in range(60)), places=None)
    with pytest.raises(BadInput, match=r"147 patches.*does not fit the reading .60 patches"):
        check(fewer, LAYOUT)


def test_rows_are_found_by_id_whatever_their_order() -> None:
    order = np.random.default_rng(3).permutation(len(CLEAN))
    spoilt = backwards(CLEAN, STRIPS[4])
    result = check(spoilt.reading.select(order), LAYOUT)
    assert [finding.where for finding in result.findings] == ["strip E"]
    assert put_right(spoilt, result.repaired)


def test_rows_are_found_by_place_or_in_sequence_where_ids_are_others() -> None:
    ids = tuple(f"patch {i}" for i in range(len(CLEAN)))
    spoilt = backwards(CLEAN, STRIPS[4])
    by_place = replace(spoilt.reading, ids=ids)
    in_sequence = replace(by_place, places=None)
    for reading in (by_place, in_sequence):
        result = check(reading, LAYOUT)
        assert [finding.where for finding in result.findings] == ["strip E"]
        assert put_right(spoilt, result.repaired)


@pytest.mark.parametrize("seed", [None, 3])
def test_the_reading_knows_its_strips_by_itself_whatever_the_order_of_its_rows(
    seed: int | None,
) -> None:
    spoilt = backwards(CLEAN, STRIPS[4])
    rows = np.arange(COUNT) if seed is None else np.random.default_rng(seed).permutation(COUNT)
    result = check(spoilt.reading.select(rows))
    assert [finding.where for finding in result.findings] == ["strip E"]
    assert put_right(spoilt, result.repaired)


def test_ids_that_are_places_tell_the_strips() -> None:
    reading = replace(CLEAN, ids=CLEAN.places, places=None)
    assert [strip.name for strip in lay_out(reading).strips] == list("ABCDEFGHIJKLMN")


def test_names_that_number_one_series_alone_tell_no_strips() -> None:
    names = tuple(f"A{i + 1}" for i in range(20))
    case = lay_out(replace(CLEAN.select(np.arange(20)), ids=names, places=None))
    assert (case.places, [strip.name for strip in case.strips]) == (None, [""])


def test_a_spoilt_patch_is_called_as_the_chart_calls_it() -> None:
    lab = CLEAN.lab.copy()
    lab[25] += [0.0, 12.0, 12.0]
    ids = tuple(f"patch {i}" for i in range(COUNT))
    result = check(replace(CLEAN, ids=ids, lab=lab, spectra=None), LAYOUT)
    assert [one.id for one in result.spoilt] == [LAYOUT.ids[25]]
    assert [one.ids for one in result.findings] == [(LAYOUT.ids[25],)]


def test_without_strips_a_misread_strip_is_a_crowd_of_values_out_of_order() -> None:
    spoilt = replace(backwards(CLEAN, STRIPS[4]).reading, places=None)
    result = check(spoilt)
    (finding,) = result.findings
    assert finding.kind == "values out of order"
    assert result.certain
    strip = {LAYOUT.ids[index] for index in STRIPS[4]}
    assert len(strip & set(finding.ids)) >= 0.8 * len(finding.ids)
    assert result.repaired is None
    assert any("The strips are not known" in remark for remark in result.remarks)


@pytest.mark.parametrize("count", [5, 21])
def test_without_strips_a_whole_ramp_backwards_is_put_right(count: int) -> None:
    from support.lab_printers import random_printer

    level = np.linspace(0, 1, count)
    ids = [str(i) for i in range(count)]
    clean = random_printer(4).measure(ids, np.repeat(level[:, None], 3, 1))
    result = check(replace(clean, lab=clean.lab[::-1]))
    assert [finding.kind for finding in result.findings] == ["sheet read from its other end"]
    assert result.repaired is not None
    np.testing.assert_array_equal(result.repaired.lab, clean.lab)


@pytest.mark.parametrize("ramp", ["K", "CMY"])
def test_published_measurements_in_any_order_give_no_alarm(ramp: str) -> None:
    # ANSI CGATS TR 006-2007: a real printing condition, K ramp and CMY grid.
    assert check(read(TR006, ramp=ramp)).clean


@pytest.mark.parametrize("count", [1, 2, 4])
def test_a_few_patches_are_taken_as_they_are(count: int) -> None:
    assert check(CLEAN.select(np.arange(count))).repaired is None


def test_refusal_names_what_where_and_what_to_do() -> None:
    with pytest.raises(BadInput, match=r"strip read backwards, strip E.*--unchecked"):
        refuse_if_misread(backwards(CLEAN, STRIPS[4]).reading, LAYOUT)


def test_a_clean_or_incomplete_reading_is_not_refused() -> None:
    refuse_if_misread(CLEAN, LAYOUT)
    refuse_if_misread(CLEAN.select(np.arange(len(CLEAN) - 3)), LAYOUT)


def test_the_repaired_reading_says_so() -> None:
    repaired = check(backwards(CLEAN, STRIPS[4]).reading, LAYOUT).repaired
    assert repaired is not None
    assert repaired.fields["REPAIRED"] == "strip read backwards: strip E"
    assert repaired.ids == CLEAN.ids
