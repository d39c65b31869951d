"""A few spoilt patches are found, named and not followed; where there are none, none are named."""

from __future__ import annotations

import numpy as np
import pytest
from support.correction_loop import chart, grey, judged, subject
from support.families import family

from greyscale.correction.correct import correct
from greyscale.correction.evidence import without_spoilt_of
from greyscale.correction.record import Correction
from greyscale.readings.reading import Reading

# Simulated printers of unlike kinds; 4 of 147 patches are 3 %.
KINDS = ("TR 006, large cast", "no black ink, tinted", "random 5")
MOST_RISE = 0.15  # Of the corrected print's largest ΔCh, by 4 patches spoilt by 2 to 10 units.


def corrected(lab: np.ndarray) -> Correction:
    device = chart(near_neutral=True)
    ids = tuple(f"P{number}" for number in range(len(device)))
    return correct([Reading("sheet", "sheet.txt", ids, device, lab)])


@pytest.mark.parametrize("kind", family(KINDS, ["random 5"]))
def test_spoilt_patches_hardly_move_the_corrected_print(kind: str) -> None:
    who, device, random = subject(kind), chart(near_neutral=True), np.random.default_rng(11)
    lab = who.lab(device) + random.normal(0.0, 0.15, device.shape)
    inner = np.flatnonzero((device.min(axis=1) > 0.01) & (device.max(axis=1) < 0.99))
    rows = random.choice(inner, 4, replace=False)
    away = random.normal(size=(4, 3))
    away *= np.array([[2.5], [4.0], [6.0], [10.0]]) / np.linalg.norm(away, axis=1, keepdims=True)
    spoilt = lab.copy()
    spoilt[rows] += away
    clean, mended = corrected(lab), corrected(spoilt)
    assert not clean.spoilt
    assert {patch.id for patch in mended.spoilt} == {f"P{row}" for row in rows}
    before, after = (
        judged(who, lambda level, made=made: made.curve.apply(grey(level)), made)
        for made in (clean, mended)
    )
    assert after.largest - before.largest <= MOST_RISE


def test_what_a_second_reading_measures_alike_is_the_printer() -> None:
    """A bend of the driver's table, read twice; read otherwise the second time, it was misread."""
    device, random = chart(near_neutral=True), np.random.default_rng(12)
    lab = subject("random 5").lab(device)
    bent = lab.copy()
    bent[60] += [0.0, 4.0, 0.0]
    ids = tuple(f"P{number}" for number in range(len(device)))

    def read(measured: np.ndarray) -> Reading:
        noisy = measured + random.normal(0.0, 0.15, device.shape)
        return Reading("sheet", "sheet.txt", ids, device, noisy)

    first, alike, otherwise = read(bent), read(bent), read(lab)
    assert [[one.id for one in found] for _, found in without_spoilt_of([first])] == [["P60"]]
    assert [found for _, found in without_spoilt_of([first, alike])] == [(), ()]
    assert [len(found) for _, found in without_spoilt_of([first, otherwise])] == [1, 0]
