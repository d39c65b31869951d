"""A correction for the light that a print hangs in, judged by the simulated print in that light.

The simulated printer is spectral; its colour under a lamp is made in `support.lights_loop`, apart
from the code under test. `tests/benchmarks/bench_lights.py` does the same for more papers and
seeds.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from support.lights_loop import Hall, best_worst, corrected, readings

from greyscale.base.errors import BadInput
from greyscale.correction.as_json import correction_text, from_json, to_json
from greyscale.correction.correct import correct
from greyscale.correction.for_lights import Seen, balanced
from greyscale.correction.record import Correction, Options
from greyscale.correction.verify import NextRound, verify
from greyscale.readings.lamps import find_light
from greyscale.reporting.correction_report import correction_sentences

LIGHTS = ("LED-B1", "D50")
ASKED = tuple(find_light(name) for name in LIGHTS)
BRIGHT = Hall("bright")


@pytest.fixture(scope="module")
def made() -> Correction:
    """For a warm LED and D50, on a strongly brightened paper, read in M1 and M2."""
    return corrected(BRIGHT, LIGHTS, noise=0.12, seed=4)


def test_one_light_is_as_neutral_as_d50_is_in_d50() -> None:
    """Mean ΔCh at most 0.3 at noise 0.12, where the correction for D50 leaves more than that."""
    hall = Hall("random 1")
    alone = corrected(hall, ("LED-V1",), noise=0.12, seed=2)
    assert hall.means(alone, ("LED-V1",))[0] < 0.3
    assert alone.lights[0].expectation.after_mean_delta_Ch < 0.3
    assert alone.trade_offs[0].mean_delta_Ch[0] > 0.3


def test_two_lights_are_within_a_tenth_of_the_best_that_the_printer_can(made: Correction) -> None:
    """The worse of both, against bounded least squares on the true printer."""
    worse = max(BRIGHT.means(made, LIGHTS))
    assert worse < best_worst(BRIGHT, *LIGHTS) + 0.12
    for_D50 = next(one for one in made.trade_offs if one.solved_for == ("D50",))
    assert worse < max(for_D50.mean_delta_Ch) - 0.2


def test_where_all_shares_are_as_good_the_lights_keep_their_weights() -> None:
    """Of two lights that look alike, on a printer that errs everywhere alike."""
    rgb = np.repeat(np.linspace(0.0, 1.0, 256)[:, np.newaxis], 3, axis=1)
    model = SimpleNamespace(
        lab=lambda sent: 100 * sent @ np.tri(3) + [0.0, 2.0, -1.0],
        jacobian=lambda sent: np.broadcast_to(100 * np.tri(3).T, (len(sent), 3, 3)),
        uncertainty=lambda sent: np.full_like(sent, 0.1),
    )
    aimed = 100 * rgb @ np.tri(3)
    for weights in ([0.7, 0.3], [0.2, 0.3, 0.5]):
        looks = [
            Seen(None, one, model, aimed[-1], aimed[0], aimed, aimed, aimed[:, 1:])  # type: ignore[arg-type]
            for one in weights
        ]
        found = balanced(looks, rgb, np.array(weights), 0.5)
        assert found == pytest.approx(weights, abs=0.01)


def test_what_is_promised_in_each_light_holds(made: Correction) -> None:
    promised = [one.expectation.after_mean_delta_Ch for one in made.lights]
    np.testing.assert_allclose(BRIGHT.means(made, LIGHTS), promised, atol=0.08)
    sent = np.column_stack(
        [np.interp(np.linspace(0, 1, 256), made.curve.levels, c) for c in made.curve.rgb.T]
    )
    for one in made.lights:
        off = (BRIGHT.lab(sent, one.name) - one.lab)[:, 1:]
        assert np.mean(np.abs(off) <= 1.96 * one.sd[:, 1:]) > 0.8


def test_of_tone_alone_lights_play_no_part_but_for_lightness(made: Correction) -> None:
    """Equal R, G, B for two lights are those for the first alone, and it is said."""
    given = readings(BRIGHT, 0.12, 4, ("M1", "M2"))
    both, first = (
        correct(given, Options(lights=lights, tone_only=True), made.model)
        for lights in (ASKED, ASKED[:1])
    )
    np.testing.assert_array_equal(both.curve.rgb, first.curve.rgb)
    assert np.ptp(both.curve.rgb, axis=1).max() == 0.0
    assert any("Lights play no other part" in said for said in correction_sentences(both))


def test_d50_by_name_is_d50_as_ever() -> None:
    """Solved from spectra for D50 it is bit for bit what CIELAB as read gives."""
    given = readings(BRIGHT, 0.12, 1, ("M1",), near_neutral=False)
    plain, named = correct(given), correct(given, Options(lights=(find_light("D50"),)))
    np.testing.assert_array_equal(plain.curve.rgb, named.curve.rgb)
    assert plain.lights == ()
    assert plain.expectation == named.expectation


def test_written_and_read_back_it_is_the_same(made: Correction, tmp_path: Path) -> None:
    path = tmp_path / "correction.json"
    path.write_text(correction_text(to_json(made)), encoding="utf-8")
    again = from_json(path)
    assert [(one.name, one.weight) for one in again.lights] == [("LED-B1", 1.0), ("D50", 1.0)]
    assert again.trade_offs == made.trade_offs
    lamp = again.lights[0].light
    np.testing.assert_array_equal(lamp.power, made.lights[0].light.power)
    seen = [one.evidence.lab_under(lamp, "2") for one in (again, made)]
    np.testing.assert_allclose(*seen, atol=0.01)
    assert json.loads(path.read_text(encoding="utf-8"))["trade_offs"][-1]["solved_for"] == [*LIGHTS]


def test_a_damaged_spectrum_is_named(made: Correction, tmp_path: Path) -> None:
    data = to_json(made)
    data["lights"][0]["spectrum"]["power"] = [1.0, 2.0]
    path = tmp_path / "correction.json"
    path.write_text(correction_text(data), encoding="utf-8")
    with pytest.raises(BadInput, match=r"lights\[0\]\.spectrum\.power"):
        from_json(path)


def test_verify_judges_in_the_lights_of_the_correction(
    made: Correction, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The proof is read in M1 alone: what glows is known of the paper already."""
    none = NextRound(False, None, None, None, None, None, None, 0.1, "Not asked.")
    monkeypatch.setattr("greyscale.correction.verify.next_round", lambda *given: none)
    device = np.repeat(np.linspace(0, 1, 22)[:, None], 3, axis=1)
    ids = tuple(map(str, range(len(device))))
    proof = BRIGHT.printer.measure(
        ids, device, sent=made.curve.apply(device), noise=0.05, seed=9, condition="M1"
    )
    found = verify(proof, made, lights=[find_light("A")])
    assert found.light == "LED-B1"
    assert [(one.name, one.counts) for one in found.lights] == [
        ("LED-B1", True), ("D50", True), ("A", False)
    ]  # fmt: skip
    true = BRIGHT.means(made, ("LED-B1", "D50", "A"))
    measured = [one.after_mean_delta_Ch for one in found.lights]
    np.testing.assert_allclose(measured, true, atol=0.1)
    assert found.within_tolerance
    # Sent as it is, the same print fails in the lights, whatever D50 says.
    plain = BRIGHT.printer.measure(ids, device, noise=0.05, seed=9, condition="M1")
    assert not verify(plain, made).within_tolerance


def test_m1_alone_gives_a_range_that_holds_the_truth() -> None:
    """Of a brightened paper read in M1 alone nobody knows what a lamp without ultraviolet shows."""
    (given,) = readings(BRIGHT, 0.12, 4, ("M1",), near_neutral=False)
    guessed = correct([given], Options(lights=(find_light("LED-B1"),), tone_only=True))
    one = guessed.lights[0]
    assert one.high > one.low + 0.5
    assert one.low - 0.05 < BRIGHT.means(guessed, ("LED-B1",))[0] < one.high
    assert any("M1 and M2" in remark for remark in guessed.remarks)


def test_without_spectra_lights_are_refused() -> None:
    (given,) = readings(BRIGHT, 0.12, 1, ("M1",), near_neutral=False)
    bare = replace(given, spectra=None, wavelengths=None)
    with pytest.raises(BadInput, match="hold no spectra"):
        correct([bare], Options(lights=(find_light("A"),)))
