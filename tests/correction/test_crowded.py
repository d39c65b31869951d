"""Of patches that crowd, those are taken that lie evenly apart; near the axis they tell little."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.correction_loop import PRINTERS

from greyscale.base.errors import BadInput
from greyscale.correction.evidence import MOST_OF_A_READING, evidence_from, is_crowded
from greyscale.readings.reading import Reading

NUDGES = np.concatenate([np.zeros((1, 3)), np.eye(3), -np.eye(3)]) * 0.05
NOISE = 0.15
WHO = PRINTERS["no black ink, tinted"]()


def _crowded(tones: int, seed: int, nudges: np.ndarray = NUDGES) -> Reading:
    levels = np.linspace(0.05, 0.95, tones)[:, np.newaxis, np.newaxis]
    device = np.concatenate([(levels + nudges).reshape(-1, 3), np.zeros((1, 3)), np.ones((1, 3))])
    lab = WHO.lab(device) + np.random.default_rng(seed).normal(0.0, NOISE, device.shape)
    ids = tuple(f"P{number}" for number in range(len(device)))
    return Reading(f"sheet {seed}", f"sheet-{seed}.txt", ids, device, lab)


def test_of_two_thousand_patches_those_are_taken_that_stand_for_all() -> None:
    reading = _crowded(290, 1)
    evidence = evidence_from([reading])
    assert is_crowded(reading)
    assert MOST_OF_A_READING / 2 < len(evidence) <= MOST_OF_A_READING
    assert np.array_equal(evidence.paper, reading.lab[-1])
    assert np.array_equal(evidence.black, reading.lab[-2])
    # Every patch has one of them beside it, nudged as it is.
    apart = np.abs(reading.device[:, np.newaxis] - evidence.device).max(axis=2).min(axis=1)
    assert apart.max() < 0.02
    fewer = _crowded(70, 1)
    assert not is_crowded(fewer)
    assert not is_crowded(fewer.select(np.tile(np.arange(len(fewer)), 3)))
    assert len(evidence_from([fewer])) == 70 * len(NUDGES) + 2


def test_readings_that_are_too_many_together_are_refused_before_the_fit() -> None:
    readings = [replace(_crowded(70, seed), name=f"sheet {seed}") for seed in range(3)]
    with pytest.raises(BadInput, match=r"1476 different device values.*at most 1000"):
        evidence_from(readings)


def test_nudges_that_noise_hides_are_refused_where_no_other_chart_holds_clear_ones() -> None:
    """A further chart asks for patches close to the axis where that is where the curve leads."""
    close, clear = _crowded(20, 1, NUDGES / 50), _crowded(21, 2)
    with pytest.raises(BadInput, match=r"nudged by only 0\.001 of the range"):
        evidence_from([close])
    for readings in ([close, clear], [clear, close]):
        assert len(evidence_from(readings)) > len(evidence_from([clear]))
