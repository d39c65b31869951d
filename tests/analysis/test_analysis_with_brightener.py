"""What `analyse` says of a brightened paper under other lights, against the simulated print there.

The print under a lamp is made from the simulated printer's own spectra and excitation curve in
`support.lights_loop`, apart from the code under test.
"""

from __future__ import annotations

import numpy as np
import pytest
from support.as_printed import compare
from support.grey_readings import grey_spectra, reading_of
from support.lights_loop import LEVELS, Hall, fading, mean_delta_Ch, readings

from greyscale.analysis.analyse import Analysis, analyse
from greyscale.analysis.brighteners import with_glow
from greyscale.analysis.comparison import ComparisonOptions
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
    for one in found.lights:
        assert one.told
        assert one.mean_delta_Ch == pytest.approx(true_mean(one.name), abs=0.1)
        paper = BRIGHT.lab(np.ones((1, 3)), one.name)[0]
        # LED-V1 peaks where excitation falls steeply, which the simulation has in steps of 10 nm.
        near = 0.25 if one.name == "LED-V1" else 0.05
        np.testing.assert_allclose(one.lab[0], paper, atol=near)


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
    assert "cannot be told under LED-B3 and LED-V1" in (light_words(found) or "")
    assert any("M1 alone" in remark and "LED-V1" in remark for remark in found.remarks)
    data = {one["name"]: one for one in analysis_data(found)["lights"]}
    assert data["LED-V1"]["told"] is False
    assert data["LED-V1"]["brightener_low"] < data["LED-V1"]["brightener_high"]
    assert data["D50"]["mean_delta_Ch"] == pytest.approx(true_mean("D50"), abs=0.1)


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
