"""Single values, spectra, repeats, condition, missing and surplus patches."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from colour.difference import delta_E_CIE2000
from support.misreading import chart_layout, clean_reading, strips_of

from greyscale.charts.chart import make_chart
from greyscale.checks.checking import check
from greyscale.checks.values import SPIKE, standing_out
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.demo.printer import demo_printer
from greyscale.readings.formats import read
from greyscale.readings.reading import Reading

LAYOUT = chart_layout(3)
COUNT = len(LAYOUT)


@pytest.fixture(scope="module")
def spectral() -> Reading:
    return demo_printer().measure(LAYOUT.ids, LAYOUT.device, places=LAYOUT.places, seed=1)


def with_spectra(reading: Reading, spectra: np.ndarray) -> Reading:
    return replace(reading, spectra=spectra, lab=spectra_to_lab(spectra, reading.wavelengths))


@pytest.mark.parametrize("paper", ["cotton rag", "baryta", "unbleached cotton", "kozo"])
@pytest.mark.parametrize("condition", ["M0", "M1", "M2"])
def test_clean_spectral_readings_give_no_alarm(paper: str, condition: str) -> None:
    reading = demo_printer(paper).measure(
        LAYOUT.ids, LAYOUT.device, places=LAYOUT.places, seed=7, condition=condition
    )
    assert check(reading, LAYOUT).findings == ()


def _unlike_neighbours(reading: Reading) -> int:
    """The patch in the middle of a strip that differs most from the one after it."""
    apart = np.linalg.norm(np.diff(reading.lab, axis=0), axis=1)
    strips = [place[0] for place in LAYOUT.places]
    inner = [i for i in range(1, len(apart) - 1) if strips[i - 1] == strips[i + 1] == strips[i]]
    return max(inner, key=lambda i: apart[i])


@pytest.mark.parametrize("share", [0.15, 0.3, 0.45])
def test_a_patch_read_across_its_edge_names_the_neighbour_and_its_share(
    spectral: Reading, share: float
) -> None:
    spectra = spectral.spectra.copy()
    at = _unlike_neighbours(spectral)
    spectra[at] = (1 - share) * spectra[at] + share * spectra[at + 1]
    (finding,) = check(with_spectra(spectral, spectra), LAYOUT).findings
    assert finding.kind.startswith("patch read across its edge")
    assert finding.ids == (LAYOUT.ids[at],)
    (said,) = re.findall(rf"(\d+) % {LAYOUT.places[at + 1]}", finding.found)
    assert int(said) == pytest.approx(100 * share, abs=2)


def test_dust_and_an_edge_are_both_named_where_none_can_tell(spectral: Reading) -> None:
    """A patch that dust darkens measures as if a darker neighbour had been seen too."""
    L, strips = spectral.lab[:, 0], [place[0] for place in LAYOUT.places]
    at = next(
        i
        for i in np.flatnonzero(spectral.on_axis[:-1] & (L[:-1] > 50) & (L[1:] < L[:-1] - 20))
        if strips[i] == strips[i + 1]
    )
    spectra = spectral.spectra.copy()
    spectra[at] *= 0.8
    (finding,) = check(with_spectra(spectral, spectra), LAYOUT).findings
    assert finding.kind == "patch read across its edge, or spoilt"
    assert "dust or a scratch" in finding.found
    assert finding.advice.startswith("Look at")


def test_a_spoilt_patch_is_no_mixture(spectral: Reading) -> None:
    lab = spectral.lab.copy()
    lab[25] += [0.0, 5.0, 5.0]
    (finding,) = check(replace(spectral, lab=lab, spectra=None), LAYOUT).findings
    assert finding.kind == "patch out of line"
    assert finding.ids == (LAYOUT.ids[25],)
    (distance,) = re.findall(r"ΔE (\d+\.\d)", finding.found)
    assert float(distance) == pytest.approx(np.hypot(5.0, 5.0), abs=0.7)


def test_repeats_that_disagree_name_the_odd_one(spectral: Reading) -> None:
    lab = spectral.lab.copy()
    black = np.flatnonzero(LAYOUT.device.max(axis=1) == 0.0)
    lab[black[0]] += [1.3, 0.4, -0.4]
    findings = check(replace(spectral, lab=lab, spectra=None), LAYOUT).findings
    assert len(findings) == 1
    assert LAYOUT.places[black[0]] in findings[0].found + findings[0].where
    assert findings[0].certainty != "certain"


def test_of_one_tone_alone_the_repeat_that_departs_is_named() -> None:
    """There is no tone scale that it could be out of line with."""
    lab = np.column_stack([[50.0, 50.1, 49.9, 50.2, 53.0, 50.0], np.zeros((6, 2))])
    reading = Reading("six", "six.txt", tuple("abcdef"), np.full((6, 3), 0.5), lab)
    (finding,) = check(reading).findings
    assert finding.kind == "repeats disagree"
    assert "e is the one that departs" in finding.found
    apart = delta_E_CIE2000(lab[4], lab[:4])
    assert f"up to ΔE00 {apart.max():.1f} apart" in finding.found


@pytest.mark.parametrize("spoilt", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_blacks_that_scatter_more_than_other_tones_are_judged_by_themselves(
    seed: int, spoilt: bool
) -> None:
    """An instrument's noise in reflectance is ten times as large in L*, a*, b* of black (CIE 15).

    Of one in a thousand, five blacks scatter by more than a unit: none of them is out of line with
    the others. One that is spoilt is.
    """
    layout = make_chart("chart").layout
    measured = demo_printer().measure(layout.ids, layout.device, places=layout.places, seed=seed)
    wander = np.random.default_rng(seed).normal(size=(len(layout), 3)) @ np.exp(
        -0.5 * ((measured.wavelengths - np.array([[450.0], [550.0], [620.0]])) / 45.0) ** 2
    )
    spectra = measured.spectra + 0.001 * wander
    blacks = np.flatnonzero(layout.device.max(axis=1) == 0.0)
    assert len(blacks) == 5
    if spoilt:
        spectra[blacks[2]] += 0.03
    found = check(with_spectra(measured, spectra), layout).findings
    odd = layout.places[blacks[2]]
    assert [odd in finding.found for finding in found] == [True] * spoilt


@pytest.mark.parametrize("off", [(5.0, 5.0), (2.0, 2.5), (3.0, 6.0), (-3.0, -6.0)])
@pytest.mark.parametrize("tone", [3, 10])
def test_two_wrong_repeats_of_four_hide_neither_themselves_nor_a_lighter_patch(
    tone: int, off: tuple[float, float]
) -> None:
    assert named_of_ramp(0.0, {4 * tone: off[0], 4 * tone + 1: off[1], 60: -4.0}) == {
        f"p{4 * tone}",
        f"p{4 * tone + 1}",
        "p60",
    }


@pytest.mark.parametrize("dark", [0.5, 1.0])
def test_tones_measured_four_times_tell_noise_in_the_dark(dark: float) -> None:
    """Their standard deviation at L* 10, falling with (L* + 16)²: seldom is a value called wrong.

    Where all tones are held to one noise, one is in most readings.
    """
    assert sum(bool(named_of_ramp(dark, {}, seed)) for seed in range(20)) <= 4
    assert named_of_ramp(dark, {60: -4.0}, 5) == {"p60"}


def named_of_ramp(dark: float, off: dict[int, float], seed: int = 0) -> set[str]:
    """What is called wrong of 21 tones read four times, so much off in L*."""
    level = np.repeat(np.linspace(0.0, 1.0, 21), 4)
    lab = np.column_stack([10 + 85 * level, np.zeros((len(level), 2))])
    sd = np.hypot(0.12, dark * (26 / (lab[:, :1] + 16)) ** 2)
    lab += sd * np.random.default_rng(seed).normal(size=lab.shape)
    for row, by in off.items():
        lab[row, 0] += by
    ids = tuple(f"p{row}" for row in range(len(level)))
    grey = np.repeat(level[:, np.newaxis], 3, axis=1)
    return {
        name for one in check(Reading("r", "r.txt", ids, grey, lab)).findings for name in one.ids
    }


def test_two_wrong_blacks_of_five_are_both_named() -> None:
    layout = make_chart("chart").layout
    measured = demo_printer().measure(layout.ids, layout.device, places=layout.places, seed=3)
    blacks = np.flatnonzero(layout.device.max(axis=1) == 0.0)[:2]
    lab = measured.lab.copy()
    lab[blacks, 0] += 2.5
    found = check(replace(measured, lab=lab, spectra=None, wavelengths=None), layout).findings
    assert {name for one in found for name in one.ids} == {layout.ids[slot] for slot in blacks}


def test_values_that_scatter_as_a_whole_are_said_once() -> None:
    result = check(clean_reading(LAYOUT, 1, noise=1.2), LAYOUT)
    assert [(one.kind, one.misread) for one in result.findings] == [("values scatter", False)]
    assert not result.certain


def test_negative_reflectance(spectral: Reading) -> None:
    spectra = spectral.spectra.copy()
    spectra[12, :4] = -0.004
    found = check(with_spectra(spectral, spectra), LAYOUT).findings
    assert found[0].kind == "negative reflectance"
    assert found[0].ids == (LAYOUT.ids[12],)
    assert found[0].certainty == "certain"


def test_a_spike_at_one_wavelength(spectral: Reading) -> None:
    spectra = spectral.spectra.copy()
    spectra[7, 14] *= 1.15
    (finding,) = check(with_spectra(spectral, spectra), LAYOUT).findings
    assert finding.kind == "spike in the spectrum"
    assert finding.ids == (LAYOUT.ids[7],)
    assert "520 nm" in finding.found


@pytest.mark.parametrize("count", [3, 5, 8, 30])
def test_a_spike_stands_out_from_what_is_usual_beside_it_at_the_lightest_and_darkest_too(
    count: int,
) -> None:
    """What is usual is the median of up to four neighbours in reflectance on each side."""
    rng = np.random.default_rng(count)
    smooth = np.linspace(0.1, 0.8, count)[:, None] * (1 + 0.1 * np.sin(np.arange(36) / 6))
    spectra = rng.permutation(smooth * rng.normal(1, 0.0005, smooth.shape))
    order = np.argsort(spectra.mean(axis=1))
    for place, times in product((0, count // 2, count - 1), (1.3, 0.7)):
        spoilt = spectra.copy()
        spoilt[order[place], 17] *= times
        sides = (spoilt[:, 16] + spoilt[:, 18]) / 2
        relative = (spoilt[:, 17] / sides - 1)[order]
        usual = np.median(relative[max(place - 4, 0) : place + 5])
        found = standing_out(spoilt)
        assert found[order[place], 16] == pytest.approx(
            (relative[place] - usual) * sides[order[place]], rel=1e-9
        )
        assert np.count_nonzero(found) == 1


def test_a_brightener_is_no_spike() -> None:
    reading = demo_printer("baryta").measure(LAYOUT.ids, LAYOUT.device, places=LAYOUT.places)
    assert check(reading, LAYOUT).clean


def test_whole_per_cent_are_said_to_be_coarse_and_make_no_spikes(tmp_path: Path) -> None:
    """The tint that is said of black is that which rounding gave to the spectra as measured."""
    full = demo_printer("cotton rag").measure(LAYOUT.ids, LAYOUT.device, places=LAYOUT.places)
    said = []
    for digits in (0, 2):
        percent = np.column_stack([255 * full.device, np.round(100 * full.spectra, digits)])
        names = [*"RGB", *(f"{nm:.0f}" for nm in full.wavelengths)]
        rows = [[name, *row] for name, row in zip(full.ids, percent, strict=True)]
        path = tmp_path / "whole.csv"
        path.write_text("\n".join(",".join(map(str, row)) for row in [["ID", *names], *rows]))
        found = check(read(path), LAYOUT)
        assert SPIKE not in {finding.kind for finding in found.findings}
        said.append(re.search(r"steps of 1 %.* black by some ΔCh (\S+),", " ".join(found.remarks)))
    assert said[1] is None
    whole = spectra_to_lab(np.round(full.spectra, 2), full.wavelengths, "D50", "2")
    dark = full.lab[:, 0] < np.percentile(full.lab[:, 0], 10)
    moved = np.hypot(*(whole - full.lab)[dark, 1:].T)
    assert float(said[0].group(1)) == pytest.approx(np.percentile(moved, 95), rel=0.3)


def test_saturated_light_patches(spectral: Reading) -> None:
    findings = check(with_spectra(spectral, np.minimum(spectral.spectra, 0.85)), LAYOUT).findings
    assert [finding.kind for finding in findings] == ["saturated"]
    lightest = LAYOUT.ids[int(np.argmax(spectral.lab[:, 0]))]
    assert lightest in findings[0].ids


@pytest.mark.parametrize(
    ("paper", "limit", "digits"),
    [
        ("cotton rag", 0.85, 2),
        ("cotton rag", 0.9, 2),
        ("baryta", 0.85, 2),
        ("baryta", 0.9, 2),
        ("baryta", 0.95, 3),
        ("unbleached cotton", 0.85, 2),
        ("unbleached cotton", 0.9, 3),
    ],
)
def test_several_patches_cut_off_at_one_height_are_saturated_however_rounded(
    paper: str, limit: float, digits: int
) -> None:
    reading = demo_printer(paper).measure(LAYOUT.ids, LAYOUT.device, places=LAYOUT.places, seed=1)
    lightest = {LAYOUT.ids[k] for k in np.flatnonzero(LAYOUT.device.min(axis=1) == 1.0)}
    for cut, expected in ((limit, lightest), (np.inf, set())):
        spectra = np.round(np.minimum(reading.spectra, cut), digits)
        findings = check(with_spectra(reading, spectra), LAYOUT).findings
        named = {name for one in findings if one.kind == "saturated" for name in one.ids}
        assert expected <= named
        assert bool(expected) == bool(named)


@pytest.mark.parametrize("digits", [2, 3, 4])
def test_a_level_spectrum_that_is_rounded_is_not_saturated(spectral: Reading, digits: int) -> None:
    """Papers and greys without a brightener reflect alike over a hundred nanometres."""
    wavelengths = spectral.wavelengths
    rising = 0.02 * (1 - np.exp(-(wavelengths - wavelengths[0]) / 60.0))
    L = (spectral.lab[:, :1] + 16) / 116
    spectra = np.round(L**3 * (0.98 + rising), digits)
    kinds = {finding.kind for finding in check(with_spectra(spectral, spectra), LAYOUT).findings}
    assert "saturated" not in kinds


def test_a_reading_that_says_m2_but_shows_its_brightener() -> None:
    reading = demo_printer("baryta").measure(LAYOUT.ids, LAYOUT.device, places=LAYOUT.places)
    (finding,) = check(replace(reading, condition="M2"), LAYOUT).findings
    assert finding.kind == "wrong condition"


def test_values_copied_from_the_patch_before(spectral: Reading) -> None:
    strip = strips_of(LAYOUT)[2]
    lab, spectra = spectral.lab.copy(), spectral.spectra.copy()
    lab[strip[3]], spectra[strip[3]] = lab[strip[2]], spectra[strip[2]]
    kinds = {finding.kind for finding in check(with_spectra(spectral, spectra), LAYOUT).findings}
    assert "value copied" in kinds


def test_missing_patches_are_named(spectral: Reading) -> None:
    kept = np.delete(np.arange(COUNT), [20, 35, 36])
    result = check(spectral.select(kept), LAYOUT)
    (finding,) = result.findings
    assert finding.kind == "patch missing"
    assert finding.lost == tuple(LAYOUT.ids[index] for index in (20, 35, 36))
    assert not result.certain
    assert result.repaired is None


def test_a_gap_in_a_strip_is_named_without_a_layout(spectral: Reading) -> None:
    kept = np.delete(np.arange(COUNT), 20)
    (finding,) = check(spectral.select(kept)).findings
    assert finding.where == LAYOUT.places[20]


def test_surplus_patches_are_named(spectral: Reading) -> None:
    reading = replace(
        spectral,
        ids=(*spectral.ids, "extra"),
        places=None,
        device=np.vstack([spectral.device, [[0.5, 0.5, 0.5]]]),
        lab=np.vstack([spectral.lab, spectral.lab[:1]]),
        spectra=None,
    )
    (finding,) = check(reading, LAYOUT).findings
    assert finding.kind == "surplus patch"
    assert finding.where == "extra"


def test_a_fall_of_lightness_between_two_tones() -> None:
    level = np.linspace(0, 1, 6)
    lab = np.column_stack([[12.0, 30.0, 58.0, 47.0, 80.0, 95.0], np.zeros(6), np.zeros(6)])
    reading = Reading("six tones", "six.txt", tuple("abcdef"), np.repeat(level[:, None], 3, 1), lab)
    (finding,) = check(reading).findings
    assert finding.kind == "L* falls as the level rises"
    assert finding.where == "c to d"


def _ramp(patches: int, spoilt: range) -> Reading:
    device = np.repeat(np.linspace(0, 1, patches)[:, np.newaxis], 3, axis=1)
    lab = np.column_stack([10 + 85 * device[:, 0], np.zeros((patches, 2))])
    lab += np.random.default_rng(5).normal(0, 0.1, lab.shape)
    lab[list(spoilt)] += np.array([0.0, 6.0, 0.0])
    return Reading("long", "long", tuple(map(str, range(patches))), device, lab)


def test_of_very_many_patches_each_is_checked_and_the_order_is_said_not_to_be() -> None:
    result = check(_ramp(1100, range(700, 701)))
    assert [finding.ids for finding in result.findings] == [("700",)]
    assert "order of more than 500 patches is not checked" in " ".join(result.remarks)


def test_a_search_that_ends_before_all_is_explained_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("greyscale.checks.search.MOST_MISTAKES", 2)
    monkeypatch.setattr("greyscale.checks.checking.MOST_MISTAKES", 2)
    result = check(_ramp(80, range(10, 70, 20)))
    assert "More than 2 values do not fit" in " ".join(result.remarks)


def test_among_many_repeats_of_each_tone_the_odd_one_is_named() -> None:
    reading = _ramp(120, range(40, 41))
    tone = np.repeat(np.linspace(0, 1, 12), 10)[:, np.newaxis]
    lab = reading.lab + 85 * (tone - reading.device) * np.array([1.0, 0.0, 0.0])
    result = check(replace(reading, device=np.repeat(tone, 3, axis=1), lab=lab))
    assert {finding.ids for finding in result.findings} == {("40",)}
