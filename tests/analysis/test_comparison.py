"""Papers under lights: constructed papers whose order and colours are known."""

from __future__ import annotations

from dataclasses import replace

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline
from support.as_printed import compare

from greyscale.analysis import comparison
from greyscale.analysis.brighteners import plain_name, prints_of
from greyscale.analysis.comparison import ComparisonOptions, orders_by_share
from greyscale.base.errors import BadInput
from greyscale.colorimetry.cielab import delta_E_ab, spectra_to_lab
from greyscale.colorimetry.fluorescence import excitation
from greyscale.colorimetry.lights import Light
from greyscale.colorimetry.observers import NANOMETRES
from greyscale.demo.printer import demo_printer
from greyscale.readings.lamps import find_light
from greyscale.readings.reading import Reading
from greyscale.reporting.comparison_report import comparison_sentences

WAVELENGTHS = np.arange(380.0, 731.0, 10.0)
LEVELS = np.repeat(np.linspace(1.0, 0.0, 17), 2)


def ramp_with_slope(slope: float, name: str) -> Reading:
    """A ramp of greys whose reflectance tilts over the spectrum: the tilt is its cast."""
    tone = 0.02 + 0.86 * LEVELS[:, None] ** 2
    inked = 1 - LEVELS[:, None]
    tilt = 1 + slope * inked * LEVELS[:, None] * (WAVELENGTHS - 555) / 175
    return reading(tone * tilt, name)


def printed(paper: str, seed: int) -> Reading:
    """The demo's print on a paper, read with ordinary noise, every tone twice."""
    return demo_printer(paper).measure(
        [str(i) for i in range(LEVELS.size)],
        np.repeat(LEVELS[:, None], 3, axis=1),
        name=f"{paper}, sheet {seed}",
        noise=0.15,
        seed=seed,
    )


def reading(spectra: np.ndarray, name: str, condition: str = "M1") -> Reading:
    return Reading(
        name=name,
        source=f"{name}-{condition}.txt",
        ids=tuple(str(i) for i in range(len(spectra))),
        device=np.repeat(LEVELS[:, None], 3, axis=1),
        lab=spectra_to_lab(spectra, WAVELENGTHS),
        spectra=spectra,
        wavelengths=WAVELENGTHS,
        condition=condition,
        backing="white",
    )


PAPERS = [ramp_with_slope(s, n) for s, n in ((0.1, "least"), (0.4, "middle"), (0.9, "most"))]


def test_papers_with_a_known_order_are_ranked_in_it() -> None:
    found = compare(PAPERS, ComparisonOptions(lights=("D50", "A", "LED-B3")))
    assert [paper.name for paper in found.papers] == ["least", "middle", "most"]
    assert [paper.rank for paper in found.papers] == [1, 2, 3]


@settings(max_examples=12, deadline=None)
@given(st.permutations(PAPERS), st.permutations(["D50", "A", "F11", "LED-B3"]))
def test_neither_the_order_of_files_nor_of_lights_changes_the_result(
    papers: list[Reading], lights: list[str]
) -> None:
    first = compare(PAPERS, ComparisonOptions(lights=("D50", "A", "F11", "LED-B3")))
    again = compare(papers, ComparisonOptions(lights=tuple(lights)))
    for one, other in zip(first.papers, again.papers, strict=True):
        assert (one.name, one.rank) == (other.name, other.rank)
        assert one.score == pytest.approx(other.score, abs=1e-12)


def test_readings_of_one_print_are_tied_and_a_worse_print_is_not() -> None:
    sheets = [printed("cotton rag", seed) for seed in range(4)]
    found = compare([*sheets, printed("baryta", 9)])
    assert [paper.rank for paper in found.papers] == [1, 1, 1, 1, 5]
    assert [paper.tied for paper in found.papers] == [True, True, True, True, False]
    assert found.papers[-1].name.startswith("baryta")


def sheets_alike(papers: int, repeated: str, sd: float, seed: int) -> list[Reading]:
    """Sheets of one print whose a*, b* wander by 0.1 as a whole, read with noise of their own."""
    tones = np.linspace(1.0, 0.0, 17)
    paper = np.concatenate([tones, [1.0, 1.0]])
    level = {"paper": paper, "nothing": tones, "all": LEVELS}[repeated]
    random = np.random.default_rng(seed)
    found = []
    for sheet in range(papers):
        read = demo_printer("cotton rag").measure(
            [str(i) for i in range(level.size)], np.repeat(level[:, None], 3, axis=1),
            name=f"sheet {sheet}", noise=sd, seed=1000 * seed + sheet,
        )  # fmt: skip
        # A tilt of the spectrum that moves b* of a grey by about this; bare paper stays.
        tilt = 1 + random.normal(0, 0.003) * (read.wavelengths - 555) / 175 * (level[:, None] < 1)
        spectra = read.spectra * tilt
        found.append(replace(read, spectra=spectra, lab=spectra_to_lab(spectra, read.wavelengths)))
    return found


@pytest.mark.parametrize("repeated", ["paper", "nothing", "all"])
@pytest.mark.parametrize(
    "seeds", [range(3), pytest.param(range(100), marks=pytest.mark.exhaustive)]
)
def test_papers_alike_in_truth_are_seldom_ranked_apart(repeated: str, seeds: range) -> None:
    """At most one order in twenty is false, however little was repeated, at sd 0.2 to 0.5."""
    parted = 0
    for seed in seeds:
        papers = sheets_alike(2 + seed % 2, repeated, (0.2, 0.35, 0.5)[seed % 3], seed)
        found = compare(papers, ComparisonOptions(lights=("D50", "A", "LED-B3")))
        parted += len({paper.rank for paper in found.papers}) > 1
    assert parted <= 0.05 * len(seeds)


def test_the_order_by_the_share_of_the_worst_light() -> None:
    """Each stretch holds what a comparison with that share finds."""
    found = compare(PAPERS, ComparisonOptions(lights=("D50", "A", "LED-B3")))
    stretches = orders_by_share(found)
    assert (stretches[0][0], stretches[-1][1]) == (0.0, 1.0)
    for first, last, ranks in stretches:
        for share in (first, last):
            again = compare(
                PAPERS, ComparisonOptions(lights=("D50", "A", "LED-B3"), worst_share=share)
            )
            by_name = {paper.name: paper.rank for paper in again.papers}
            assert ranks == tuple(by_name[paper.name] for paper in found.papers)


def test_the_stated_deviation_is_that_of_repeated_readings() -> None:
    """Against 200 simulated readings of one print."""
    runs = [printed("cotton rag", seed) for seed in range(200)]
    found = compare(runs, ComparisonOptions(lights=("D50", "A")))
    scores = np.array([paper.score for paper in found.papers])
    stated = np.mean([paper.sd for paper in found.papers])
    assert stated == pytest.approx(scores.std(ddof=1), rel=0.25)


# Colours under lights, against 1 nm sums of another library's tables.


def smooth(count: int = 17) -> np.ndarray:
    random = np.random.default_rng(5)
    centres, widths = (
        random.uniform(380, 730, (count, 4, 1)),
        random.uniform(70, 140, (count, 4, 1)),
    )
    bells = np.exp(-0.5 * ((NANOMETRES - centres) / widths) ** 2)
    grey = np.linspace(0.9, 0.03, count)[:, None]
    return np.asarray(grey * (1 + 0.04 * np.sum(random.normal(0, 1, (count, 4, 1)) * bells, 1)))


def lamp() -> Light:
    table = colour.SDS_ILLUMINANTS["LED-V2"]
    values = CubicSpline(table.wavelengths, table.values)(np.arange(380.0, 781.0))
    grid = np.arange(380.0, 781.0)
    power = np.interp(NANOMETRES, grid, values, left=0, right=0)
    return Light("hall lamp", power, grid, values)


def sums(spectra: np.ndarray, light: str) -> np.ndarray:
    """CIELAB by plain sums at 1 nm from 360 to 830 nm of `colour`'s tables."""
    table = colour.SDS_ILLUMINANTS[{"F11": "FL11", "hall lamp": "LED-V2"}.get(light, light)]
    inside = (table.wavelengths[0] <= NANOMETRES) & (table.wavelengths[-1] >= NANOMETRES)
    straight = light.startswith("D")
    between = np.interp(NANOMETRES, table.wavelengths, table.values)
    power = between if straight else CubicSpline(table.wavelengths, table.values)(NANOMETRES)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].values
    weights = (np.where(inside, power, 0))[:, None] * observer
    white = weights.sum(axis=0)
    xyz = spectra @ weights / white[1]
    xy = white[:2] / white.sum()
    return np.asarray(colour.XYZ_to_Lab(xyz, xy))


@pytest.mark.parametrize(
    ("light", "first", "last", "limit"),
    [
        ("A", 380, 730, 0.02),
        ("LED-B3", 380, 730, 0.02),
        ("D65", 380, 730, 0.02),
        ("hall lamp", 380, 730, 0.02),
        ("F11", 380, 730, 0.12),
        ("A", 400, 700, 0.07),
        ("D65", 400, 700, 0.07),
    ],
)
def test_colours_under_lights_equal_sums_at_one_nanometre(
    light: str, first: int, last: int, limit: float
) -> None:
    spectra = smooth()
    keep = (first <= NANOMETRES) & (last >= NANOMETRES)
    measured = np.repeat(spectra[:, keep][:, ::10], 2, axis=0)
    print_ = replace(
        reading(np.ones((34, 36)), "print"),
        spectra=measured,
        wavelengths=np.arange(first, last + 1.0, 10),
        lab=spectra_to_lab(measured, np.arange(first, last + 1.0, 10)),
    )
    wanted = lamp() if light == "hall lamp" else light
    papers = [replace(print_, name="a"), replace(print_, name="b")]
    found = compare(papers, ComparisonOptions(lights=(wanted,)))
    difference = delta_E_ab(found.papers[0].under.lab[0], sums(spectra, light))
    assert difference.max() < limit


# Brighteners.


def brightened(strength: float = 0.08) -> tuple[Reading, Reading]:
    bare = (0.02 + 0.86 * LEVELS[:, None] ** 2) * np.ones((1, 36))
    seen = (bare / bare[0]) ** 2
    glow = strength * seen * np.exp(-0.5 * ((WAVELENGTHS - 440) / 20) ** 2)
    return reading(bare + glow, "baryta, M1", "M1"), reading(bare, "baryta, M2", "M2")


def plain() -> Reading:
    return ramp_with_slope(0.1, "cotton rag")


def test_m1_and_m2_make_one_paper_with_a_brightener_figure() -> None:
    with_uv, without_uv = brightened()
    (own,) = prints_of([without_uv, with_uv])
    assert own.name == "baryta"
    assert own.delta_b == pytest.approx(with_uv.lab[0, 2] - without_uv.lab[0, 2], abs=1e-9)


def test_the_print_glows_under_a_light_as_much_as_that_excites_it() -> None:
    """X, Y, Z under t: those without UV, plus the glow's under D50 times U_t / U_D50.

    The closed form of a bispectral paper: radiance emitted = absorbed UV × emission, whatever
    else the light sends.
    """
    with_uv, without_uv = brightened()
    lights = ("D50", "A", "D65")
    found = compare([with_uv, without_uv, plain(), replace(plain(), name="second")],
                    ComparisonOptions(lights=lights))  # fmt: skip
    paper = next(paper for paper in found.papers if paper.name == "baryta")
    for index, light in enumerate(lights):
        from greyscale.colorimetry.cielab import xyz_to_lab
        from greyscale.colorimetry.tristimulus import grid_white_point, spectra_to_xyz

        assert with_uv.spectra is not None
        assert without_uv.spectra is not None
        emitted = spectra_to_xyz(with_uv.spectra - without_uv.spectra, WAVELENGTHS, "D50")
        xyz = spectra_to_xyz(without_uv.spectra, WAVELENGTHS, light) + excitation(light) * emitted
        expected = xyz_to_lab(xyz, grid_white_point(WAVELENGTHS, light))[::2]
        np.testing.assert_allclose(paper.under.lab[index], expected, atol=1e-9)
    np.testing.assert_allclose(paper.under.lab[0], with_uv.lab[::2], atol=1e-9)


@pytest.mark.parametrize("alone", ["M1", "M2"])
@pytest.mark.parametrize("strength", [0.0, 0.03, 0.08])
def test_with_one_condition_the_range_holds_what_both_would_have_told(
    alone: str, strength: float
) -> None:
    """Fibres no yellower than b* 3 and brighteners up to Δb* -8: common practice, no source.

    To 0.1, as the emission of a brightener that was not measured is of the usual shape only;
    this one's is narrower.
    """
    both = brightened(strength)
    other = [replace(plain(), name=n, condition=alone) for n in ("a", "b")]
    lights = ComparisonOptions(lights=("A", "D65", "LED-B3"))
    known = compare([*both, *[replace(o, condition="M1") for o in other]], lights)
    single = compare([both[0 if alone == "M1" else 1], *other], lights)
    true = next(p for p in known.papers if p.name == "baryta").under.mean_delta_Ch
    under = next(p for p in single.papers if p.name == "baryta").under
    assert np.all(under.brightener_low - 0.1 <= true)
    assert np.all(true <= under.brightener_high + 0.1)


def test_a_lamp_gives_a_range_only_for_brightened_papers() -> None:
    """Wide where its ultraviolet is not known, narrow where it is, but not what it excites."""
    found = compare([*brightened(), plain()], ComparisonOptions(lights=("A", "LED-B3")))
    width = {p.name: p.under.brightener_high - p.under.brightener_low for p in found.papers}
    assert 0 < 5 * width["baryta"][0] < width["baryta"][1]


# What is refused.


def no_spectra(one: Reading) -> Reading:
    return replace(one, spectra=None, wavelengths=None)


@pytest.mark.parametrize(
    ("papers", "message"),
    [
        ([PAPERS[0]], "at least two papers"),
        ([PAPERS[0], no_spectra(PAPERS[1])], "holds no spectra"),
        ([PAPERS[0], replace(PAPERS[1], condition="M2")], "condition M2"),
        ([PAPERS[0], replace(PAPERS[1], backing="black")], "backing black"),
        ([PAPERS[0], PAPERS[0]], "tells of 'least' as .* does, in the same condition"),
        ([PAPERS[0], PAPERS[1].select(range(0, 20)), replace(PAPERS[1], condition="M2")],
         "unlike ramps"),
    ],
)  # fmt: skip
def test_what_cannot_be_compared_is_refused(papers: list[Reading], message: str) -> None:
    with pytest.raises(BadInput, match=message):
        compare(papers)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (ComparisonOptions(viewer="wall"), "viewer 'wall'"),
        (ComparisonOptions(worst_share=2), "give 0 to 1"),
        (ComparisonOptions(weights={"D65": 1}), "not among the lights"),
        (ComparisonOptions(weights={"A": -1}), "numbers from 0 to a million"),
        (ComparisonOptions(lights=("LED-B9",)), "LED-B9"),
    ],
)
def test_options_that_mean_nothing_are_refused(options: ComparisonOptions, message: str) -> None:
    with pytest.raises(BadInput, match=message):
        compare(PAPERS, options)


def test_a_viewer_adapted_to_the_paper_takes_its_tint_for_white() -> None:
    """A ramp that has its paper's tint at every tone is neutral to eyes used to the paper."""
    tint = np.linspace(0.9, 1.0, 36)
    flat = (0.02 + 0.86 * LEVELS[:, None] ** 2) * tint
    options = ComparisonOptions(viewer="paper", neutral="absolute")
    found = compare([reading(flat, "warm"), plain()], options)
    warm = next(paper for paper in found.papers if paper.name == "warm")
    assert warm.under.mean_delta_Ch_to_paper.max() < 0.01
    assert warm.under.mean_delta_Ch.min() > 1.0


def test_observers_disagree_about_the_demo_print_and_agree_about_flat_greys() -> None:
    flat = (0.02 + 0.86 * LEVELS[:, None] ** 2) * np.ones((1, 36))
    options = ComparisonOptions(lights=("D50", "A"))
    found = compare([printed("baryta", 1), reading(flat, "flat")], options)
    spread = {p.name: p.under.observers_high - p.under.observers_low for p in found.papers}
    assert spread["flat"].max() < 1e-6
    assert spread["baryta, sheet 1"].min() > 0.05
    # The standard observer of the same field (CIE 1964) sees what most viewers do.
    options = ComparisonOptions(lights=("D50", "A"), observer="10")
    for paper in compare([printed("baryta", 1), reading(flat, "flat")], options).papers:
        seen, under = paper.under.mean_delta_Ch, paper.under
        assert np.all(under.observers_low - 1e-9 <= seen)
        assert np.all(seen <= under.observers_high + 1e-9)


def test_names_without_their_condition() -> None:
    assert plain_name("unbleached cotton (M2)") == "unbleached cotton"
    assert plain_name("M1 and M2") == "and"


def test_prints_are_called_by_their_papers_where_all_tell_another() -> None:
    given = [
        replace(one, paper=paper) for one, paper in ((plain(), "rag"), (brightened()[0], "kozo"))
    ]
    assert [one.name for one in prints_of(given)] == ["rag", "kozo"]
    for paper in ("Rag", None):
        again = [given[0], replace(given[1], paper=paper)]
        assert [one.name for one in prints_of(again)] == [plain().name, "baryta"]


def test_it_is_said_whether_the_order_survives_what_is_not_known() -> None:
    """A paper read in M1 alone may be better or worse than one without brightener, or sure."""
    options = ComparisonOptions(lights=("LED-B3",))
    open_order = compare([brightened()[0], plain()], options)
    best, other = open_order.papers
    assert other.low < best.high < other.high
    assert "could change which is best" in " ".join(comparison_sentences(open_order))
    twins = [replace(brightened()[0], name=name) for name in ("one", "other")]
    assert "could part them: the scores may be" in " ".join(
        comparison_sentences(compare(twins, options))
    )
    sure = compare([*brightened(), ramp_with_slope(0.9, "steep")], options)
    assert sure.papers[0].high < sure.papers[1].low
    assert "The best stays the best" in " ".join(comparison_sentences(sure))


def test_the_order_behind_a_glass_that_nobody_measured_is_tried_behind_others(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Of sheets that vary, papers so close together could not be told apart.
    monkeypatch.setattr(comparison, "SHEETS_CH", 0.0)
    lights = tuple(find_light(name, "uv-filter") for name in ("D50", "LED-B3"))
    assert all(len(one.credible) == 6 for one in lights)
    plain = compare(
        [ramp_with_slope(0.1, "slight"), ramp_with_slope(0.3, "strong")],
        ComparisonOptions(lights=lights),
    )
    assert plain.survives_glass
    assert "the order survives every credible glass (6 others tried)" in " ".join(
        comparison_sentences(plain)
    )
    # What a brightener does depends on where the glass begins to pass; a tint hardly does.
    tone = (0.02 + 0.86 * LEVELS[:, None] ** 2) * np.ones(WAVELENGTHS.size)
    glow = 0.12 * LEVELS[:, None] ** 2 * np.exp(-0.5 * ((WAVELENGTHS - 440) / 25) ** 2)
    bright = [reading(tone + glow, "bright"), reading(tone, "bright", "M2")]
    daylight = ComparisonOptions(lights=(find_light("D65", "uv-filter"),))

    def beside(slope: float):
        plain = ramp_with_slope(slope, "plain").spectra
        pair = [reading(plain, "plain", condition) for condition in ("M1", "M2")]
        found = compare([*bright, *pair], daylight)
        return found, {paper.name: paper for paper in found.papers}

    _, papers = beside(0.1)
    low, high = papers["bright"].behind_glass
    even, papers = beside(0.1 * (low + high) / 2 / papers["plain"].score)
    assert low < papers["plain"].score < high
    assert not even.survives_glass
    assert "does not survive every credible glass" in " ".join(comparison_sentences(even))
    for paper in (*plain.papers, *even.papers):
        assert paper.behind_glass[0] <= paper.score <= paper.behind_glass[1]
    measured = compare(
        [ramp_with_slope(0.1, "slight"), ramp_with_slope(0.3, "strong")],
        ComparisonOptions(lights=("D50",)),
    )
    assert measured.glasses == 0
    assert "glass" not in " ".join(comparison_sentences(measured))
