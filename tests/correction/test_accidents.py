"""A proof is known by the pattern that an accident leaves, and nothing is said to have worked then.

On simulated printers that were kept out while the patterns were described (`support.accidents`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.accidents import ACCIDENTS, KEPT_OUT, corrected, printer, proof
from support.corrections import correction_with, curve_against, proof_of
from support.families import family

import greyscale.correction.verify as verifying
from greyscale.analysis.analyse import analyse
from greyscale.analysis.followed import SHEETS_CH, SHEETS_UNSURE
from greyscale.analysis.what_next import PRINTER, PROOF
from greyscale.charts.chart import Through, make_chart
from greyscale.colorimetry.cielab import mean_over_lightness
from greyscale.correction import accidents
from greyscale.correction.accidents import _sending, accidents_of
from greyscale.correction.expectation import Expectation
from greyscale.correction.sureness import learn
from greyscale.correction.verify import NextRound, verify
from greyscale.reporting.verification_report import verification_sentences

MEMBERS = [(name, accident) for name in KEPT_OUT for accident in ACCIDENTS]
EVERY_TIME = [
    ("random 11", accident) for accident in ACCIDENTS if accident.split()[-1] != "correction"
]
ROUND = (
    "If it was printed as it should be, another round from this reading (--previous) mends a "
    "changed printer or a promise that was too good."
)
NO_ROUND = NextRound(False, None, None, None, None, None, None, 0.1, "Another round is not asked.")


@pytest.mark.parametrize("member", family(MEMBERS, EVERY_TIME))
def test_an_accident_is_named_first(
    member: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(verifying, "next_round", lambda *given: NO_ROUND)
    name, accident = member
    found = verify(proof(name, accident, seed=2), corrected(name))
    said = verification_sentences(found)
    named = ACCIDENTS[accident]
    worked = any(sentence.startswith("The correction worked") for sentence in said)
    # Of what went wrong, each promise is broken; of sheets that differ as sheets do, few (below).
    if accident != "none, another sheet":
        assert found.prediction_error.kept is (named is None)
    if named is None:
        assert worked
        assert said[0].startswith("The correction worked")
    else:
        assert named in said[0]
        assert not worked


@pytest.mark.parametrize(
    ("left", "begins", "ends", "about"),
    [
        ({"dry": 0.3}, "most likely a print that is not dry yet. Let it dry", "again.", PRINTER),
        ({"dry": 0.3, "setting": 0.4}, "most likely a print that is not dry yet; or else another "
         "media", "To tell them apart, let it dry, and measure it again; see that the driver is "
         "set as for the first chart.", PROOF),
        ({"cyan": 0.3, "yellow": 0.3}, "most likely clogged nozzles, too little cyan",
         "yellow being printed. To tell them apart, print a nozzle check.", PROOF),
        ({"other": 0.3}, "most likely another correction, a printer that has changed, or more",
         f"could tell. {ROUND}", PRINTER),
        ({"other": 0.3, "dry": 0.4}, "perhaps a print that is not dry yet; or else another corr",
         f"To tell them apart, let it dry, and measure it again. {ROUND}", PRINTER),
        ({"other": 0.3, "conversion": 0.4}, "perhaps a conversion of its values",
         f"printer that has changed, or more promised of it than its readings could tell. To tell "
         f"them apart, print the untouched chart again with colour management off. {ROUND}", PROOF),
        ({"conversion": 0.3, "other": 0.35, "setting": 0.4}, "most likely a conversion of its valu",
         f"set as for the first chart. {ROUND}", PROOF),
    ],
)  # fmt: skip
def test_causes_that_cannot_be_told_apart_are_named_with_what_tells(
    left: dict[str, float], begins: str, ends: str, about: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What predicts nothing of its own comes last, and what another round mends is named."""
    every = dict.fromkeys(accidents._CAUSES, 1.0) | left
    monkeypatch.setattr(accidents, "_left", lambda *given: every)
    made = correction_with(curve_against())
    kept = proof_of(made)
    other = replace(kept, lab=kept.lab + np.outer(1.0 - kept.level, [0.0, 6.0, 0.0]))
    text, found = accidents._printing(analyse(other, lights=()), made, 2.0) or ("", "")
    assert f"2.0 ΔE00 from it on average): {begins}" in text
    assert text.endswith(ends)
    assert text.count("another correction") <= 1
    assert found == about


@pytest.mark.parametrize(
    ("sent", "named"),
    [
        ("Harbour", None),
        (None, "own code says that it was sent without a correction"),
        ("Harbour, round 3", "sent through the correction 'Harbour, round 3', its own code says"),
        ("Another", "not sent through 'Harbour', its own code says, but through another"),
    ],
)
def test_what_the_code_of_a_proof_says_of_its_sending_is_believed(
    sent: str | None, named: str | None
) -> None:
    """Whatever it measures like: here it is what was promised."""
    made = correction_with(curve_against(), name="Harbour")
    through = None if sent is None else Through(sent, made.curve.apply)
    sheet = make_chart("proof", tones=33, code=True, through=through).layout
    reading = proof_of(
        made, ids=sheet.ids, places=sheet.places, device=sheet.device,
        lab=made.curve.predict(sheet.device.mean(axis=1)),
    )  # fmt: skip
    said = accidents_of(reading, analyse(reading, lights=()), made, off=0.1, as_stated=True)
    assert len(said) == (named is not None)
    if named is not None:
        assert named in said[0][0]


def test_what_no_values_remove_is_no_part_of_what_the_model_leaves_open() -> None:
    """But of a ramp alone it is supposed as well."""
    made = Expectation(2.0, 4.0, 1.0, 2.0, 0.6, 1.5, 0.1, 0.3, 0.0)
    both = []
    for supposed in (False, True):
        ranges = [
            replace(made, unreachable_mean_delta_Ch=known).on_another_sheet(1, supposed)
            for known in (0.0, 0.3, 0.6)
        ]
        both.append([high / low for _, low, high in ranges])
        assert len({mean for mean, _, _ in ranges}) == 1
    measured, supposed_of = both
    assert measured[0] > measured[1] > measured[2]
    assert len(set(supposed_of)) == 1


def test_another_sheet_lies_off_the_mean_of_those_read_by_a_variance_of_one_and_one_over_them():
    """The variance of a further value less the mean of n (any textbook)."""
    made = Expectation(2.0, 4.0, 1.0, 2.0, 0.6, 1.5, 0.1, 0.3, 0.0)
    added = [made.on_another_sheet(n)[0] ** 2 - 0.6**2 for n in (1, 2, 5)]
    assert np.divide(added, added[0]) == pytest.approx([1.0, 1.5 / 2, 1.2 / 2])


@pytest.mark.parametrize("sd", [0.1, 0.6])
def test_a_rough_reading_of_what_was_promised_is_not_taken_for_the_uncorrected_print(
    sd: float,
) -> None:
    """However near that lies: an accident must fit twice as well. One that fits is named."""
    curve, off = curve_against(0.3), np.array([1.2, 0.0, 0.0])
    near = correction_with(curve, before_lab=curve.lab + off)
    kept = proof_of(near, sd)
    lighter = replace(kept, lab=kept.lab + off)
    assert _sending(analyse(kept, lights=()), near) is None
    if sd == 0.1:
        assert "like the uncorrected one" in (_sending(analyse(lighter, lights=()), near) or "")


def test_of_sheets_that_differ_as_sheets_do_few_break_the_promise(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """And, taken together, they teach nothing of bands that were too narrow; none is doubted."""
    monkeypatch.setattr(verifying, "next_round", lambda *given: NO_ROUND)
    proofs = [
        verify(proof("random 11", "none, another sheet", seed), corrected("random 11"))
        for seed in range(2, 14)
    ]
    assert not any(one.accidents for one in proofs)
    found = [one.prediction_error for one in proofs]
    assert np.mean([one.as_stated for one in found]) < 0.7
    assert np.mean([one.kept for one in found]) > 0.8
    assert learn([(one.spread, one.needed) for one in found]) is None


def test_what_is_expected_of_another_sheet_is_what_sheets_that_differ_so_measure() -> None:
    """The true mean ΔCh of sheets of printers whose channels vary from sheet to sheet.

    By so much that the mean a*, b* of their tones vary as is said, to a factor of about two from
    printer to printer; the sheet that was read is off as well.
    """
    correction, lab = corrected("random 11"), printer("random 11").lab  # type: ignore[attr-defined]
    levels = np.linspace(0.05, 0.95, 19)
    sent = correction.curve.apply(np.repeat(levels[:, None], 3, axis=1))
    aim = np.column_stack(
        [np.interp(levels, correction.curve.levels, axis) for axis in correction.aim_lab.T]
    )
    random = np.random.default_rng(4)
    shares = random.normal(0.0, 0.002, (200, 3))
    off = np.stack([lab(1 - (1 - sent) * (1 + share)) for share in shares]) - lab(sent)
    vary = np.sqrt(np.mean(off[..., 1:].mean(axis=1) ** 2))
    times = np.exp(SHEETS_UNSURE * random.normal(size=(200, 1, 1)))
    printed = lab(sent) + np.sqrt(2.0) * SHEETS_CH / vary * times * off
    delta_Ch = np.linalg.norm((printed - aim)[..., 1:], axis=-1)
    true = np.array([mean_over_lightness(one, aim[:, 0]) for one in delta_Ch])
    expected, least, most = correction.expectation.on_another_sheet(1)
    assert true.mean() == pytest.approx(expected, rel=0.15)
    assert np.mean((true > least) & (true < most)) == pytest.approx(0.8, abs=0.1)
    assert true.mean() > 2 * correction.expectation.after_mean_delta_Ch
