"""A few spoilt patches are found, named and not followed; where there are none, none are named."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from support.correction_loop import chart, grey, judged, subject
from support.families import family

from greyscale.correction.as_json import correction_text, from_json, to_json
from greyscale.correction.correct import correct
from greyscale.correction.evidence import without_spoilt_of
from greyscale.correction.record import Correction
from greyscale.printer.model import fit
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


def test_of_a_reading_taken_as_it_is_nothing_is_set_aside(tmp_path: Path) -> None:
    """Nor when a correction is read again from its file, and its model made anew."""
    device = chart(near_neutral=True)
    lab = subject("random 5").lab(device) + np.random.default_rng(9).normal(0, 0.15, device.shape)
    lab[[40, 60]] += [0.0, 6.0, 0.0]
    reading = Reading("sheet", "sheet.txt", tuple(f"P{n}" for n in range(len(lab))), device, lab)
    assert {one.id for one in correct([reading]).spoilt} == {"P40", "P60"}
    made = correct([reading.taken_as_it_is()])
    assert made.spoilt == ()
    assert made.evidence.measurements == len(lab)
    (tmp_path / "made.json").write_text(correction_text(to_json(made)))
    again = from_json(tmp_path / "made.json")
    assert again.evidence.as_it_is
    assert fit(again.evidence).spoilt == ()


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
