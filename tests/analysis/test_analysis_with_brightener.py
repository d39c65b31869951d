"""What `analyse` says of a brightened paper under other lights, against the simulated print there.

The print under a lamp is made from the simulated printer's own spectra and excitation curve in
`support.lights_loop`, apart from the code under test.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.as_printed import compare
from support.grey_readings import grey_spectra, reading_of
from support.lights_loop import LEVELS, Hall, fading, mean_delta_Ch, readings

from greyscale.analysis import under_lights
from greyscale.analysis.analyse import Analysis, analyse
from greyscale.analysis.brighteners import STRONGEST_DELTA_B, most_glow, prints_of, with_glow
from greyscale.analysis.comparison import ComparisonOptions
from greyscale.base.rests_on import supports
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.colorimetry.fluorescence import EMISSION_PEAK, emission_curve
from greyscale.colorimetry.lights import Light, at_wavelengths, light
from greyscale.reporting.analysis_words import light_words
from greyscale.reporting.json_output import analysis_data

LIGHTS = ("D50", "A", "LED-B3", "LED-V1")
BRIGHT = Hall("bright")
GREYS = np.repeat(LEVELS[:, None], 3, axis=1)


def analysed(*conditions: str, hall: Hall = BRIGHT) -> Analysis:
    (joined,) = with_glow(readings(hall, 0.0, 1, conditions, near_neutral=False))
    return analyse(joined, lights=LIGHTS)


def true_mean(name: str, hall: Hall = BRIGHT) -> float:
    ends = hall.lab(np.array([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]]), name)
    lab = hall.lab(GREYS, name)
    aim = fading((lab[:, 0] - ends[1, 0]) / (ends[0, 0] - ends[1, 0]), *ends)
    return mean_delta_Ch(lab, aim)


def test_m1_and_m2_together_tell_what_the_lamp_shows() -> None:
    found = analysed("M1", "M2")
    assert found.lights is not None
    named = set(supports("excitation", "emission"))
    assert named & set(found.rests_on) == set(supports("excitation"))
    for one in found.lights:
        assert one.told
        assert one.mean_delta_Ch == pytest.approx(true_mean(one.name), abs=0.1)
        paper = BRIGHT.lab(np.ones((1, 3)), one.name)[0]
        # LED-V1 peaks where excitation falls steeply, which the simulation has in steps of 10 nm.
        near = 0.25 if one.name == "LED-V1" else 0.05
        np.testing.assert_allclose(one.lab[0], paper, atol=near)


def test_the_ends_of_a_range_are_those_of_two_hundred_shares(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The least mean ΔCh lies in a narrow dip; steps of a sixth alone are 0.03 off here."""
    ends = []
    for shares, refinements in ((None, None), (np.linspace(0.0, 1.0, 201), 0)):
        if shares is not None:
            monkeypatch.setattr(under_lights, "SHARES", shares)
            monkeypatch.setattr(under_lights, "REFINEMENTS", refinements)
        found = analysed("M1").lights
        assert found is not None
        ends.append([(one.low, one.high) for one in found])
    np.testing.assert_allclose(ends[0], ends[1], atol=0.002)


def test_m1_alone_gives_a_range_that_holds_the_truth_and_no_figure() -> None:
    found = analysed("M1")
    assert found.lights is not None
    for one in found.lights:
        assert one.low - 0.1 < true_mean(one.name) < one.high + 0.1
        b = BRIGHT.lab(np.ones((1, 3)), one.name)[0, 2]
        assert one.paper_b[0] - 0.1 < b < one.paper_b[1] + 0.1
    pumped = {one.name: one for one in found.lights}
    assert pumped["D50"].told
    assert not pumped["LED-V1"].told
    assert "cannot be told under A, LED-B3 and LED-V1" in (light_words(found) or "")
    assert any("M1 alone" in remark and "LED-V1" in remark for remark in found.remarks)
    data = {one["name"]: one for one in analysis_data(found)["lights"]}
    assert data["LED-V1"]["told"] is False
    assert data["LED-V1"]["brightener_low"] < data["LED-V1"]["brightener_high"]
    assert data["D50"]["mean_delta_Ch"] == pytest.approx(true_mean("D50"), abs=0.1)


@pytest.mark.parametrize("begins", [380, 400])
@pytest.mark.parametrize("paper", ["bright", "baryta"])
def test_a_table_that_begins_late_gives_a_range_that_holds_what_the_whole_one_tells(
    paper: str, begins: int
) -> None:
    """CIE D65, tabulated from 300 nm; what excites the most lies below where these begin."""
    whole = light("D65")
    nm = np.arange(300.0, 781.0)
    known = nm >= begins
    power = at_wavelengths(whole, nm)
    cut = Light("hall", whole.power, nm[known], power[known])
    (joined,) = with_glow(readings(Hall(paper), 0.0, 1, ("M1", "M2"), near_neutral=False))
    full, part = analyse(joined, lights=(whole, cut)).lights
    assert full.high - full.low < part.high - part.low
    assert part.low - 0.05 <= full.mean_delta_Ch <= part.high + 0.05
    assert part.paper_b[0] - 0.1 <= full.lab[0, 2] <= part.paper_b[1] + 0.1


def test_analysis_and_comparison_say_the_same() -> None:
    """One model of fluorescence: mean ΔCh of one print under one light is one number."""
    both = readings(BRIGHT, 0.1, 3, ("M1", "M2"), near_neutral=False)
    other = readings(Hall("baryta"), 0.1, 3, ("M1", "M2"), near_neutral=False)
    compared = compare([*both, *other], ComparisonOptions(lights=LIGHTS))
    for pair in (both, other):
        found = analyse(with_glow(pair)[0], lights=LIGHTS)
        (paper,) = (one for one in compared.papers if one.own.ramp.reading.paper == pair[0].paper)
        assert found.lights is not None
        means = [one.mean_delta_Ch for one in found.lights]
        np.testing.assert_allclose(paper.under.mean_delta_Ch, means, atol=1e-6)


def test_without_brightener_one_condition_is_enough() -> None:
    """Fibres yellower than any that are bleached hold no brightener that could be missed.

    Nor does a paper whose spectrum is level in the violet: what glows would stand out of it.
    """
    found = analysed("M1", hall=Hall("unbleached cotton"))
    assert all(one.low == one.high == one.mean_delta_Ch for one in found.lights or ())
    levels = np.linspace(0, 1, 11)
    flat = analyse(reading_of(levels, spectra=grey_spectra(levels)), lights=LIGHTS)
    assert all(one.low == one.high for one in flat.lights or ())


@pytest.mark.parametrize("cover", [0.0, 0.3, 0.9, 1.0])
def test_ink_lets_pass_as_much_of_a_glow_as_of_what_it_reflects(cover: float) -> None:
    """Murray and Davies: bare paper, and dots of ink, which light passes in and out.

    Through opaque dots nothing is excited; through grey ones the ultraviolet passes once, the glow
    once, so that they glow as much less as they reflect less.
    """
    nm = np.arange(380.0, 731.0, 10.0)
    paper = 0.9 * (1 - 0.4 * np.exp(-(nm - 380) / 12)) + 0.3 * emission_curve(nm)
    for transmittance in (0.0, 0.5, 0.8):
        share = 1 - cover + cover * transmittance**2
        found = most_glow(share * paper[np.newaxis], paper, nm, "M1")
        whole = most_glow(paper[np.newaxis], paper, nm, "M1")
        np.testing.assert_allclose(found[0], share * whole[0], atol=1e-12)
        assert np.all(found[2] <= found[0] + 1e-12)
        assert np.all(found[0] <= found[1] + 1e-12)


def test_coloured_ink_lets_ultraviolet_in_and_the_glow_out_each_by_its_own_root() -> None:
    """As it reflects: once at the shortest wavelength that was read, once at the glow's peak."""
    nm = np.arange(380.0, 731.0, 10.0)
    paper = 0.9 * (1 - 0.4 * np.exp(-(nm - 380) / 12)) + 0.3 * emission_curve(nm)
    ink = np.linspace(0.25, 1.0, nm.size)
    at_peak = ink[np.argmin(np.abs(nm - EMISSION_PEAK))]
    found = most_glow(np.stack([paper, ink * paper]), paper, nm, "M1")[0]
    np.testing.assert_allclose(found[1], np.sqrt(ink[0] * at_peak) * found[0], atol=1e-12)


def test_to_paper_read_without_ultraviolet_the_strongest_brightener_adds_so_much_blue() -> None:
    nm = np.arange(380.0, 731.0, 10.0)
    paper = 0.9 * (1 - 0.4 * np.exp(-(nm - 380) / 12))
    bright = paper + most_glow(paper[np.newaxis], paper, nm, "M2")[0, 0]
    b = spectra_to_lab(np.stack([paper, bright]), nm)[:, 2]
    assert b[1] - b[0] == pytest.approx(STRONGEST_DELTA_B, rel=0.1)


def test_what_m1_alone_may_hold_leaves_fibres_no_yellower_than_any_are() -> None:
    """Nor ones that reflect less at 440 nm than at 400: the less of both, by how much they rise."""
    nm = np.arange(380.0, 740.0, 10.0)
    for rise in (0.05, 0.12, 0.2):
        paper = 0.85 + rise * (nm - 560.0) / 320.0 + 0.1 * emission_curve(nm)
        bare = paper - most_glow(paper[np.newaxis], paper, nm, "M1")[0, 0]
        b, left = spectra_to_lab(np.stack([paper, bare]), nm)[:, 2]
        fall = bare[nm == 440.0] - bare[nm == 400.0]
        if rise == 0.05:
            assert fall == pytest.approx(0.0, abs=1e-9)
            assert left < 3.0
        else:
            assert left - b == pytest.approx(3.0 - b, rel=0.1)  # taken as linear
            assert fall > 0.0


def test_the_greys_alone_read_without_ultraviolet_tell_as_much_as_the_whole_chart_did() -> None:
    whole, without = readings(BRIGHT, 0.0, 1, ("M1", "M2"))
    greys = np.flatnonzero(np.ptp(without.device, axis=1) < 1e-9)
    assert len(greys) < len(without)
    (full,), (part,) = (prints_of([whole, one]) for one in (without, without.select(greys)))
    assert part.known
    for name in ("base", "glow", "most"):
        np.testing.assert_allclose(getattr(part, name), getattr(full, name), atol=1e-9)
    assert part.delta_b == pytest.approx(full.delta_b)


@pytest.mark.parametrize("shadow", [0.6, 1.0, 1.4])
@pytest.mark.parametrize("strength", [0.15, 0.3])
def test_m1_alone_holds_what_both_would_have_told(strength: float, shadow: float) -> None:
    """Prints of a drifting tint; their ink is `shadow` times as dense for the ultraviolet."""
    nm, levels = np.arange(380.0, 731.0, 10.0), np.linspace(0, 1, 15)
    density = 0.01 + 1.2 * (1 - levels[:, None]) ** 1.5
    tilt = 1 + 0.5 * (1 - levels[:, None]) * levels[:, None] * (nm - 560) / 170
    body = 0.9 * 10 ** (-density * tilt) + 0.02
    passed = 10 ** (-density * (1 + shadow) / 2)
    glow = strength * passed * np.exp(-0.5 * ((nm - 438) / np.where(nm < 438, 20, 38)) ** 2)
    both = [
        replace(reading_of(levels, spectra=body + part), condition=condition)
        for condition, part in (("M1", glow), ("M2", 0.0 * glow))
    ]
    (joined,) = with_glow(both)
    known, alone = (analyse(one, lights=("A", "LED-B3")).lights for one in (joined, both[0]))
    assert known is not None
    assert alone is not None
    for one, other in zip(known, alone, strict=True):
        assert other.low - 0.1 <= one.mean_delta_Ch <= other.high + 0.1
