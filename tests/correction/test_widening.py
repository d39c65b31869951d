"""Bands that prove too narrow are stated wider, by as much as a simulated truth asks for.

Sheets of one print differ, which is counted for itself, and is nothing to learn. The printer
varies from day to day besides by an amount that no reading of one day can tell; the
simulation's own number is what the widened bands are held against.
"""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from support.corrections import correction_with, curve_against, proof_of

from greyscale.analysis.analyse import analyse
from greyscale.analysis.followed import TONE_OF_SHEET, sheets_apart
from greyscale.correction.as_json import from_json, to_json
from greyscale.correction.sureness import (
    Learnt,
    PredictionError,
    learn,
    prediction_error,
    widen,
)
from greyscale.correction.targets import neutral_aim_of, tone_aim_of

MADE = correction_with(curve_against(points=257))
STATED = 0.12
NOISE = 0.1


def scored(correction, by_day: float, seed: int) -> PredictionError:
    """Another sheet, of another day by which tones vary smoothly besides, read with noise."""
    print_ = proof_of(correction, sd=0.0)
    random = np.random.default_rng(seed)
    level = print_.level[:, np.newaxis]
    # Ten cosines: about as many tones err independently as a promise counts with.
    waves = [np.cos(np.pi * k * level) * random.normal(0.0, 1.0, 3) for k in range(10)]
    day = np.sum(waves, axis=0) / np.sqrt(5.5) * by_day
    # Another sheet besides, as sheets differ: together, and each tone a little.
    L, ab = sheets_apart(1)
    sheets = np.array([L, ab, ab])
    waves = [np.cos(np.pi * k * level) * random.normal(0.0, 1.0, 3) for k in range(10)]
    little = np.sqrt(1.0 - TONE_OF_SHEET**-2) * np.sum(waves, axis=0) / np.sqrt(5.5)
    day = day + sheets * (random.normal(0.0, 1.0, 3) / TONE_OF_SHEET + little)
    lab = print_.lab + day + random.normal(0.0, NOISE, print_.lab.shape)
    return prediction_error(
        analyse(
            replace(print_, lab=lab),
            aim=tone_aim_of(correction),
            neutral=neutral_aim_of(correction),
            lights=(),
        ),
        correction,
    )


def learnt_from(by_day: float, proofs: int, seed: int = 0) -> Learnt | None:
    found = [scored(MADE, by_day, 100 * seed + i) for i in range(proofs)]
    return learn([(one.spread, one.needed) for one in found])


def test_a_printer_that_keeps_to_its_bands_teaches_nothing():
    told = [learnt_from(STATED, 4, seed) for seed in range(40)]
    assert sum(one is not None for one in told) <= 2


def test_bands_are_widened_to_what_the_printer_varies_by():
    factors = [learnt_from(4 * STATED, 5, seed) for seed in range(20)]
    assert all(factors)
    assert np.median([one.factor for one in factors]) == pytest.approx(4.0, rel=0.15)


def test_promises_that_were_broken_are_kept_afterwards():
    learnt = learnt_from(4 * STATED, 5)
    wider = widen(MADE, learnt)
    before = [scored(MADE, 4 * STATED, 1000 + i) for i in range(40)]
    after = [scored(wider, 4 * STATED, 1000 + i) for i in range(40)]
    assert np.mean([one.kept for one in before]) < 0.1
    assert np.mean([one.kept for one in after]) > 0.85
    assert np.mean([one.within_sheets for one in after]) == pytest.approx(0.95, abs=0.05)
    # What there is to learn stays what it was, whatever was stated meanwhile.
    assert [one.needed for one in after] == pytest.approx([one.needed for one in before])


def test_one_accident_teaches_nothing():
    assert learn([(9.0, 9.0)]) is None
    assert learn([(1.0, 1.0), (9.0, 9.0), (0.9, 0.9)]) is None
    assert learn([(8.0, 8.0), (9.0, 9.0)]) == Learnt(8.5, 2)


def test_a_widened_correction_says_so_and_promises_less(tmp_path):
    wider = widen(MADE, Learnt(3.0, 4))
    np.testing.assert_allclose(wider.curve.sd, 3 * MADE.curve.sd)
    same = widen(MADE, Learnt(1.0, 4))
    assert wider.expectation.after_mean_delta_Ch > same.expectation.after_mean_delta_Ch
    assert wider.expectation.before_mean_delta_Ch == MADE.expectation.before_mean_delta_Ch
    assert "3.0 times as large as the readings alone suggest: 4 proofs" in wider.remarks[-1]
    path = tmp_path / "correction.json"
    path.write_text(json.dumps(to_json(wider)), encoding="utf-8")
    assert from_json(path).widened == 3.0
