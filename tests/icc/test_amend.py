"""An output profile whose grey is off prints neutral once amended; the rest stays as it was."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from support.families import family
from support.lab_printers import random_printer
from support.little_cms import LAB_DOUBLE, RGB_DOUBLE, convert
from support.output_profiles import output_profile, relative

from greyscale.base.errors import BadInput
from greyscale.charts.chart import make_chart
from greyscale.colorimetry.cielab import delta_E_2000
from greyscale.correction.evidence import evidence_from
from greyscale.icc.amend import Printer, amend
from greyscale.icc.files import measured_printer
from greyscale.icc.profile import Profile, parse_profile, profile_bytes, read_text
from greyscale.icc.tables import read_table
from greyscale.printer.model import fit

CAST = 3.0
KINDS = {"lut16": (2, 4), "ab": (4, 3), "lut8": (2, 4)}


@lru_cache
def printer():
    """A printer whose grey drifts by a few units."""
    return random_printer(3, largest_cast=3.0)


@lru_cache
def original(kind: str, points: int = 17) -> Profile:
    return output_profile(printer().lab, CAST, KINDS[kind], kind, points=points)


@lru_cache
def measured() -> Printer:
    """The same printer, as far as a chart of it tells."""
    chart = make_chart("chart", near_neutral=True, code=False)
    reading = printer().measure(chart.layout.ids, chart.layout.device, name="chart", noise=0.15)
    evidence = evidence_from([reading])
    return measured_printer(fit(evidence), evidence)


@lru_cache
def amended(kind: str) -> bytes:
    return profile_bytes(amend(original(kind), measured(), "out.icc", note="neutral")[0])


GREYS = np.stack([np.linspace(35, 97, 63), np.zeros(63), np.zeros(63)], axis=1)


def mean_delta_Ch(profile: bytes, intent: int) -> float:
    sent = convert(GREYS, None, profile, LAB_DOUBLE, RGB_DOUBLE, intent)
    printed = relative(printer().lab)(sent)
    return float(np.hypot(printed[:, 1], printed[:, 2]).mean())


@pytest.mark.parametrize("kind", family(KINDS, ["lut16"]))
@pytest.mark.parametrize("intent", family([0, 1, 2], [1]))
def test_a_printer_with_a_profile_off_by_three_is_neutral_through_the_amended_one(kind, intent):
    """Little CMS converts; the simulated printer prints: mean ΔCh below 0.6."""
    before = mean_delta_Ch(profile_bytes(original(kind)), intent)
    after = mean_delta_Ch(amended(kind), intent)
    assert before > 1.5
    assert after < 0.6


@pytest.mark.parametrize("kind", family(KINDS, ["lut16"]))
def test_there_and_back_again_is_where_one_started(kind):
    """A2B1(B2A1(Lab)) = Lab within 0.3 ΔE00, near neutral and within the printer's reach."""
    lab = np.random.default_rng(1).uniform([40, -2, -2], [88, 2, 2], (400, 3))
    there = convert(lab, None, amended(kind), LAB_DOUBLE, RGB_DOUBLE)
    back = convert(there, amended(kind), None, RGB_DOUBLE, LAB_DOUBLE)
    assert delta_E_2000(lab, back).max() < 0.3


@pytest.mark.parametrize("kind", family(KINDS, ["lut16"]))
def test_colours_far_from_grey_are_sent_as_before(kind):
    """To what a 16-bit grid rounds, and to how a CMM cuts the cells of a finer one."""
    lab = np.random.default_rng(2).uniform([40, -70, -70], [80, 70, 70], (2000, 3))
    first = convert(lab, None, profile_bytes(original(kind)), LAB_DOUBLE, RGB_DOUBLE)
    second = convert(lab, None, amended(kind), LAB_DOUBLE, RGB_DOUBLE)
    far = np.ptp(first, axis=1) > 0.9
    assert far.sum() > 50
    assert np.abs(first - second)[far].max() < 0.01


def test_grid_points_that_need_no_change_keep_their_value():
    before = read_table(original("lut16").tags["B2A1"], "B2A1", "x").grid.values
    after = read_table(parse_profile(amended("lut16"), "x").tags["B2A1"], "B2A1", "x").grid.values
    factor = (after.shape[0] - 1) // (before.shape[0] - 1)
    same = after[::factor, ::factor, ::factor]
    far = np.ptp(before, axis=-1) > 0.7
    np.testing.assert_allclose(same[far], before[far], atol=1 / 65535)


@pytest.mark.parametrize("kind", family(KINDS, ["lut16"]))
def test_white_stays_bare_paper(kind):
    white = np.array([[100.0, 0.0, 0.0]])
    first = convert(white, None, profile_bytes(original(kind)), LAB_DOUBLE, RGB_DOUBLE)
    second = convert(white, None, amended(kind), LAB_DOUBLE, RGB_DOUBLE)
    np.testing.assert_allclose(second, first, atol=2e-3)


@pytest.mark.parametrize("kind", family(KINDS, ["lut16"]))
def test_the_reference_implementation_finds_no_fault(kind):
    """`iccdev`: the ICC's own library."""
    iccdev = pytest.importorskip("iccdev", reason="iccdev is not installed")
    result = iccdev.validate_profile(amended(kind))
    assert result.status == iccdev.ValidationStatus.OK, result.report


def test_other_tags_stay_and_the_texts_say_what_was_done():
    before, after = original("lut16"), parse_profile(amended("lut16"), "x")
    assert after.tags["wtpt"] == before.tags["wtpt"]
    assert read_text(after.tags["desc"]) == "workshop printer, cotton rag, neutral"
    assert "tables amended" in read_text(after.tags["cprt"])


def test_only_the_intents_asked_for_are_amended():
    white = np.array([95.0, 0.0, 2.0])
    known = Printer(printer().lab, white, 0.1)
    old = original("ab", points=9)
    new, told = amend(old, known, "x", intents=["relative"], note="neutral")
    assert {one.table for one in told} == {"A2B1", "B2A1"}
    assert new.tags["B2A0"] == old.tags["B2A0"]


def unlike(**changes):
    return replace(original("lut16"), **changes)


@pytest.mark.parametrize(
    ("profile", "message"),
    [
        (lambda: unlike(device_class="mntr"), "class 'mntr'"),
        (lambda: unlike(colour_space="CMYK"), "profile for CMYK"),
        (lambda: unlike(connection_space="XYZ "), "connects to XYZ"),
        (lambda: unlike(tags={"desc": b"desc" + bytes(8)}), "holds no table A2B1"),
        (lambda: unlike(tags={"A2B1": b"curv" + bytes(20)}), "kind 'curv'"),
        (lambda: unlike(tags={"A2B1": original("lut16").tags["A2B1"][:9000]}), "damaged"),
    ],
)
def test_profiles_that_cannot_be_amended_are_refused(profile, message):
    with pytest.raises(BadInput, match=message):
        amend(profile(), Printer(printer().lab, np.array([95.0, 0, 2]), 0.1), "x", note="n")
