"""The figures and remarks of a comparison, each against the reading that it is of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.as_printed import compare
from support.one_print import a_print

from greyscale.analysis.analyse import analyse
from greyscale.analysis.brighteners import prints_of
from greyscale.analysis.certainty import ramp_noise
from greyscale.analysis.comparison import ComparisonOptions
from greyscale.analysis.ramp import ramp_of
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.readings.reading import Reading


def reading(sheet: str, seed: int = 4, condition: str = "M1", **changes) -> Reading:
    one = a_print(sheet, seed, [0, 8, 16])
    made = Reading(
        name=sheet, source=f"{sheet}-{condition}.txt", ids=one.ids, device=one.device, lab=one.lab,
        spectra=one.spectra, wavelengths=one.wavelengths, condition=condition, backing="white",
    )  # fmt: skip
    return replace(made, **changes)


def between(one: Reading, first: float, last: float) -> Reading:
    """The same, read over fewer wavelengths."""
    kept = (one.wavelengths >= first) & (one.wavelengths <= last)
    spectra, wavelengths = one.spectra[:, kept], one.wavelengths[kept]
    lab = spectra_to_lab(spectra, wavelengths)
    return replace(one, spectra=spectra, wavelengths=wavelengths, lab=lab)


def with_glow(one: Reading, strength: float = 0.08) -> Reading:
    """The same, read with the ultraviolet that makes a brightener glow."""
    seen = (one.spectra / one.spectra.max(axis=0)) ** 2
    glow = strength * seen * np.exp(-0.5 * ((one.wavelengths - 440) / 20) ** 2)
    spectra = one.spectra + glow
    lab = spectra_to_lab(spectra, one.wavelengths)
    return replace(one, spectra=spectra, lab=lab, condition="M1")


def remarks(*readings: Reading, **options) -> str:
    return " ".join(compare(readings, ComparisonOptions(**options)).remarks)


@pytest.mark.parametrize("scaling", ["linear", "black-point"])
def test_under_d50_tone_and_neutrality_are_those_of_an_analysis(scaling: str) -> None:
    papers = [reading("kozo"), reading("baryta")]
    found = compare(papers, ComparisonOptions(lights=("D50", "A"), scaling=scaling))
    for one in papers:
        paper = next(other for other in found.papers if other.name == one.name)
        alone = analyse(one, lights=(), scaling=scaling)
        assert paper.under.rms_delta_L[0] == pytest.approx(alone.tone.rms_delta_L, abs=1e-9)
        assert paper.under.mean_delta_Ch[0] == pytest.approx(alone.neutrality.mean_delta_Ch)
        assert paper.L_range == pytest.approx(alone.paper[0] - alone.black[0])


def test_the_brighteners_figure_is_the_change_of_b_of_the_paper() -> None:
    """Of a paper that is tinted by itself, so that its a* is no b*."""
    without = reading("cotton rag", condition="M2")
    both = with_glow(without)
    (own,) = prints_of([replace(without, name="x"), replace(both, name="x")])
    paper = int(np.argmax(both.lab[:, 0]))
    means = [one.lab[one.level == 1.0].mean(axis=0) for one in (both, without)]
    assert both.level[paper] == 1.0
    assert own.delta_b == pytest.approx(means[0][2] - means[1][2], abs=1e-3)
    assert own.delta_b < -3


def test_what_a_brightener_does_is_known_where_both_conditions_were_read() -> None:
    """Zero without a brightener; without a second condition nobody knows."""
    without = reading("kozo", condition="M2")
    shifts = {}
    for name, one in (("bright", with_glow(without)), ("plain", replace(without, condition="M1"))):
        pair = [replace(one, name=name), replace(without, name=name)]
        found = compare([*pair, reading("baryta")], ComparisonOptions(lights=("D50", "A")))
        by_name = {paper.name: paper.under for paper in found.papers}
        shifts[name] = by_name[name].paper_shift_by_brightener
        assert np.isnan(by_name["baryta"].paper_shift_by_brightener).all()
    np.testing.assert_allclose(shifts["plain"], 0.0, atol=1e-9)
    assert shifts["bright"][0] == 0
    assert shifts["bright"][1] > 1


@pytest.mark.parametrize("what", ["printer", "paper", "settings"])
def test_readings_of_unlike_prints_do_not_belong_together(what: str) -> None:
    """M1 and M2 of one name, but of another printer, paper or settings."""
    first = reading("kozo", **{what: "one"})
    second = replace(reading("kozo", condition="M2"), **{what: "one"})
    assert len(prints_of([first, second])) == 1
    assert len(prints_of([first, replace(second, **{what: "other"})])) == 2


@pytest.mark.parametrize(("first", "last", "said"), [
    (380, 730, False), (390, 710, False), (400, 730, False), (380, 700, True), (400, 700, True),
])  # fmt: skip
def test_spectra_that_end_early_are_remarked(first: int, last: int, said: bool) -> None:
    short, whole = between(reading("kozo"), first, last), reading("baryta")
    assert ("kozo: The spectra go from" in remarks(short, whole)) is said


def test_lamps_whose_ultraviolet_is_not_known_are_named() -> None:
    both = reading("kozo"), reading("baryta")
    told = remarks(*both, lights=("D50", "LED-B3", "A"))
    assert "The ultraviolet of LED-B3 is not fully known" in told
    assert "is not fully known" not in remarks(*both, lights=("D50", "A"))


def test_the_deviation_of_a_mean_is_that_of_its_trapezoids() -> None:
    """Against an aim that stays where it is, where each tone's noise counts by its share of L*."""
    one = reading("kozo")
    options = ComparisonOptions(lights=("D50",), neutral="absolute")
    found = compare([one, reading("baryta")], options)
    paper = next(paper for paper in found.papers if paper.name == "kozo")
    alone = analyse(one, lights=())
    tones = alone.patches.is_tone
    L, counts = alone.patches.lab[tones, 0], alone.patches.counts[tones]
    unit = np.eye(L.size)
    shares = np.abs([np.trapezoid(each, L) for each in unit]) / np.ptp(L)
    # The noise that the ramp's own roughness tells counts beside that of the repeats.
    expected = ramp_noise(ramp_of(one))[0] * np.sqrt(np.sum(shares**2 / counts))
    assert paper.under.sd_mean_delta_Ch[0] == pytest.approx(expected, rel=1e-6)
