"""Papers ranked by what stays after their best correction, against the simulated prints.

What stays at best is solved on the true printers, tone by tone, in `support.lights_loop`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.corrections import correction_with, curve_against, evidence
from support.lights_loop import Hall, best_worst, readings

from greyscale.analysis.brighteners import with_glow
from greyscale.analysis.comparison import ComparedPaper, Comparison, ComparisonOptions
from greyscale.base.errors import BadInput
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.correction.correct import correct
from greyscale.correction.corrected_papers import compare_papers
from greyscale.correction.evidence import evidence_from
from greyscale.correction.record import Options
from greyscale.printer.model import fit, predict_spectra
from greyscale.readings.lamps import find_light
from greyscale.readings.reading import Reading
from greyscale.reporting.comparison_report import comparison_data, comparison_sentences

LIGHTS = ("D50", "LED-B1")
OPTIONS = ComparisonOptions(lights=LIGHTS, worst_share=1.0)
NAMES = ("unbleached cotton", "random 1")


def read(name: str, *, near_neutral: bool) -> list[Reading]:
    both = readings(Hall(name), 0.12, 6, ("M1", "M2"), near_neutral=near_neutral)
    return [replace(one, name=f"{name}, {one.condition}", source=f"{name} {one.condition}.txt")
            for one in both]  # fmt: skip


@pytest.fixture(scope="module")
def corrected() -> Comparison:
    return compare_papers([one for name in NAMES for one in read(name, near_neutral=True)], OPTIONS)


@pytest.fixture(scope="module")
def plain() -> Comparison:
    ramps = [one for name in NAMES for one in read(name, near_neutral=False)]
    return compare_papers(ramps, OPTIONS)


def by_name(found: Comparison) -> dict[str, ComparedPaper]:
    return {paper.name: paper for paper in found.papers}


def test_papers_score_by_what_no_correction_takes_out(corrected: Comparison) -> None:
    assert corrected.corrected
    for name, paper in by_name(corrected).items():
        best = best_worst(Hall(name), *LIGHTS)
        assert best - 0.06 < paper.score < best + 0.12
        assert paper.other_score > 2 * paper.score
    assert comparison_sentences(corrected)[0].startswith("Once each is corrected, ")
    data = comparison_data(corrected)
    assert data["corrected"] is True
    assert all("score_as_printed" in paper for paper in data["papers"])


def test_predicted_spectra_look_as_the_model_says() -> None:
    """Of a chart with few near-neutral patches, where a*, b* and L* are smoothed unlike."""
    (both,) = with_glow(read("bright", near_neutral=True))
    joined = evidence_from([both.select(np.flatnonzero(both.on_axis | (np.arange(147) % 2 == 0)))])
    model = fit(joined)
    assert joined.spectra is not None
    assert joined.wavelengths is not None
    level = np.linspace(0.0, 1.0, 33)
    sent = np.column_stack([level, level, np.clip(level + 0.03 * np.sin(9 * level), 0.0, 1.0)])
    spectra = predict_spectra(model, joined.lab, joined.spectra, sent)
    found = spectra_to_lab(spectra, joined.wavelengths)
    np.testing.assert_allclose(found, model.lab(sent), atol=0.08)


@pytest.mark.exhaustive
def test_a_paper_scores_what_its_correction_promises(corrected: Comparison) -> None:
    """Two ways to one figure: spectra predicted and looked at, and CIELAB solved by light."""
    name = NAMES[1]
    hung = Options(lights=tuple(map(find_light, LIGHTS)), worst_share=1.0)
    promised = correct(with_glow(read(name, near_neutral=True)), hung)
    under = by_name(corrected)[name].under
    for index, one in enumerate(promised.lights):
        after = one.expectation.after_mean_delta_Ch
        assert under.mean_delta_Ch[index] == pytest.approx(after, abs=0.06)


def test_a_plain_ramp_is_compared_as_printed_and_says_by_how_much_that_could_change(
    corrected: Comparison, plain: Comparison
) -> None:
    assert not plain.corrected
    text = " ".join(comparison_sentences(plain))
    assert text.startswith("As printed")
    assert "not what corrected prints will do" in text
    assert any("no near-neutral patches" in remark for remark in plain.remarks)
    for name, paper in by_name(plain).items():
        after = by_name(corrected)[name]
        assert paper.other_score == pytest.approx(after.score, abs=0.15)
        np.testing.assert_allclose(paper.score, after.other_score, atol=0.15)


def test_two_rounds_of_one_paper_are_refused_by_their_own_names() -> None:
    """Both rest on the same first reading, whose file says nothing of which is which."""
    spectra = np.linspace(0.05, 0.9, 21)[:, np.newaxis] * np.ones(36)
    known = replace(evidence(), spectra=spectra, wavelengths=np.arange(380.0, 731.0, 10.0))
    first = correction_with(curve_against(points=17), name="Harbour light", evidence=known)
    with pytest.raises(BadInput, match=r"'Harbour light, round 2'.*'Harbour light' does"):
        compare_papers([first, replace(first, round=2)], OPTIONS)
