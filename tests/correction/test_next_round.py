"""When another round is worth the paper: gains against what repeats of the reading tell."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import halfnorm, rayleigh
from support.corrections import correction_with, curve_against
from support.logged import reading

import greyscale.correction.verify as rounds
from greyscale.analysis.analyse import analyse
from greyscale.analysis.followed import least_gains
from greyscale.base.errors import BadInput
from greyscale.colorimetry.cielab import mean_over_lightness
from greyscale.correction.verify import _without_noise, next_round

PRINT = reading(1, a=2.0, L=2.0, noise=0.3)
AFTER = analyse(PRINT, lights=())
REPEATS = AFTER.reading.repeatability
NOW = dict(
    zip(("mean_delta_Ch", "max_delta_Ch", "mean_delta_L"), _without_noise(AFTER), strict=True)
)
LEAST = dict(zip(NOW.keys(), least_gains(REPEATS.sd_Ch, REPEATS.sd_L), strict=True))
"""The gain in each beyond which a round is worth it."""


def test_noise_is_taken_out_by_the_mean_lengths_of_scipys_distributions() -> None:
    """Of a* and b* together Rayleigh's, of L* alone half a normal one's; it adds in squares."""
    patches = AFTER.patches
    tones = patches.is_tone
    share = np.mean(1 / np.sqrt(patches.counts[tones]))
    mean_L = mean_over_lightness(np.abs(patches.delta_L[tones]), patches.lab[tones, 0])
    shown = AFTER.neutrality.mean_delta_Ch, AFTER.neutrality.max_delta_Ch, mean_L
    noise = np.array([REPEATS.sd_Ch * rayleigh.mean()] * 2 + [REPEATS.sd_L * halfnorm.mean()])
    np.testing.assert_allclose(np.hypot(list(NOW.values()), share * noise), shown)


@pytest.fixture
def promised(monkeypatch: pytest.MonkeyPatch):
    """Has the next correction promise some figures, and gives the judgement."""

    def judged(**gains: float):
        left = {f"after_{name}": now - gains.get(name, 0.0) for name, now in NOW.items()}
        solved = SimpleNamespace(expectation=SimpleNamespace(**left), own_lights=())
        monkeypatch.setattr(rounds, "correct", lambda *given: solved)
        return next_round(PRINT, correction_with(curve_against()), AFTER)

    return judged


@pytest.mark.parametrize("figure", LEAST)
def test_it_is_worth_it_for_a_gain_beyond_the_noise(figure: str, promised) -> None:
    assert REPEATS.known
    gain = 1.05 * LEAST[figure]
    found = promised(**{figure: gain})
    assert found.worth_it
    assert "is worth it" in found.reason
    assert figure.replace("max", "largest").split("_")[0] in found.reason
    assert getattr(found, f"gain_{figure}") == pytest.approx(gain)
    assert getattr(found, f"expected_{figure}") == pytest.approx(NOW[figure] - gain)
    assert found.repeatability == REPEATS.sd_Ch


@pytest.mark.parametrize("figure", LEAST)
def test_it_is_not_worth_it_for_a_gain_within_the_noise(figure: str, promised) -> None:
    found = promised(**{name: 0.95 * least for name, least in LEAST.items() if name == figure})
    assert not found.worth_it
    assert "is not worth it" in found.reason


def test_where_nothing_would_come_down_that_is_said(promised) -> None:
    found = promised(mean_delta_Ch=-0.1)
    assert not found.worth_it
    assert "would not come down" in found.reason


def test_of_tone_alone_the_tint_asks_for_no_round() -> None:
    """The print is off by ΔCh 2, which stays; its tone is off by less than is noticed."""
    curve = curve_against()
    level = curve.rgb.mean(axis=1, keepdims=True)
    tone = correction_with(replace(curve, rgb=np.repeat(level, 3, axis=1)))
    assert NOW["mean_delta_Ch"] > LEAST["mean_delta_Ch"]
    assert NOW["mean_delta_L"] < LEAST["mean_delta_L"]
    found = next_round(PRINT, tone, AFTER)
    assert not found.worth_it
    assert "mean ΔL*" in found.reason
    assert "ΔCh" not in found.reason


@pytest.mark.parametrize(("share", "worth"), [(1.0, True), (0.0, False)])
def test_of_several_lights_it_is_judged_in_the_set(monkeypatch, share, worth) -> None:
    """All is well in the first light; in the second, of little weight, much could be gained."""
    fine, tinted = 0.5, 3.0
    looks = {0: (fine, 1.0, 0.0), 1: (tinted, 1.0, 0.0)}
    monkeypatch.setattr(rounds, "_without_noise", lambda look: looks[look])
    monkeypatch.setattr(rounds, "options", lambda given, **asked: given)
    left = [
        SimpleNamespace(after_mean_delta_Ch=mean, after_max_delta_Ch=1.0, after_mean_delta_L=0.0)
        for mean in (fine, 1.0)
    ]
    lights = [
        SimpleNamespace(weight=w, expectation=e) for w, e in zip((0.98, 0.02), left, strict=True)
    ]
    solved = SimpleNamespace(expectation=left[0], own_lights=lights)
    monkeypatch.setattr(rounds, "correct", lambda *given: solved)
    made = SimpleNamespace(tone_only=False, own_lights=lights, worst_share=share)
    first = type("Look", (int,), {"reading": AFTER.reading})(0)
    found = next_round(PRINT, made, first, [1])
    assert found.worth_it is worth
    # Worked out by hand from the definition of the score.
    assert found.gain_mean_delta_Ch == pytest.approx(share * 2.0 + (1 - share) * 0.04)
    assert found.expected_mean_delta_Ch == pytest.approx(
        share * 1.0 + (1 - share) * (0.98 * 0.5 + 0.02 * 1.0)
    )
    assert "score of the mean ΔCh in its 2 lights" in found.reason


def test_a_reading_that_cannot_be_solved_from_is_no_reason_for_another_round(monkeypatch) -> None:
    def refuse(*given):
        raise BadInput("L* falls")

    monkeypatch.setattr(rounds, "correct", refuse)
    found = next_round(PRINT, correction_with(curve_against()), AFTER)
    assert found.worth_it is False
    assert found.expected_mean_delta_Ch is None
    assert "cannot be solved: L* falls" in found.reason
