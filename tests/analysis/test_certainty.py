"""Verdicts and casts at the rate that they claim, on simulated readings of known prints."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.special import stdtr, stdtrit
from scipy.stats import multivariate_normal, rayleigh
from support.families import family
from support.grey_readings import ramp_lab, reading_of

from greyscale.analysis.analyse import analyse
from greyscale.analysis.certainty import (
    LARGEST_LENGTH,
    MEAN_LENGTH,
    _kernels,
    credible_drifts,
    student_quantile,
    student_tail,
)
from greyscale.analysis.neutrality import find_casts

LEVELS = np.linspace(0, 1, 21)


def test_lengths_of_noise_are_those_of_scipys_rayleigh_distribution() -> None:
    """The mean, and what one in ten exceeds."""
    assert pytest.approx(rayleigh.mean()) == MEAN_LENGTH
    assert pytest.approx(rayleigh.ppf(0.9), rel=0.03) == LARGEST_LENGTH


def readings(lab, levels, sd, count):
    """Readings of one print, each with noise of its own."""
    for seed in range(count):
        noise = np.random.default_rng(seed).normal(0.0, sd, lab.shape)
        found = analyse(reading_of(levels, lab + noise), lights=())
        yield found.neutrality


@pytest.mark.parametrize(
    ("sd", "repeated"),
    family(product([0.15, 0.3, 0.5], [False, True]), [(0.15, True), (0.5, False)], several=True),
)
def test_a_neutral_print_shows_no_cast_and_does_not_fail(sd, repeated):
    """At most 2 of 100, whether the noise is known from repeats or from the ramp alone."""
    levels = np.concatenate([LEVELS, np.repeat(LEVELS[2:20:4], 2)]) if repeated else LEVELS
    found = list(readings(ramp_lab(levels, 0.0), levels, sd, 100))
    assert sum(bool(one.casts) for one in found) <= 2
    assert sum(one.no_cast_verdict == "not shown" for one in found) <= 2
    assert sum(one.verdict == "fail" for one in found) <= 2


def test_a_print_that_is_plainly_outside_fails_and_its_cast_is_found():
    found = list(readings(ramp_lab(LEVELS, 2.0), LEVELS, 0.3, 40))
    assert all(one.verdict == "fail" and one.probability < 0.05 for one in found)
    assert all(one.casts and {cast.hue for cast in one.casts} == {"reddish"} for one in found)
    assert all(any(cast.verdict == "shown" for cast in one.casts) for one in found)
    assert all(one.no_cast_verdict == "not shown" for one in found)


@pytest.mark.parametrize(("height", "wrong"), [(0.85, "shown"), (1.3, "not shown")])
def test_of_a_cast_near_what_is_seen_the_verdict_is_seldom_wrong(height, wrong):
    """A tint that rises and falls once, to a little less than ΔCh 1, or a little more."""
    lab = ramp_lab(LEVELS, height * np.sin(np.pi * LEVELS))
    found = list(readings(lab, LEVELS, 0.3, 40))
    said = [cast.verdict for one in found for cast in one.casts]
    assert said.count(wrong) <= 2
    none = {"shown": "not shown", "not shown": "shown"}[wrong]
    assert sum(one.no_cast_verdict == none for one in found) <= 2
    assert "cannot be told" in {*said, *(one.no_cast_verdict for one in found)}


@pytest.mark.parametrize(("true", "wrong"), [(0.7, "fail"), (0.8, "pass")])
def test_near_the_limit_a_verdict_is_seldom_wrong(true, wrong):
    """The exhibition grade allows a mean ΔCh of 0.75."""
    found = list(readings(ramp_lab(LEVELS, true), LEVELS, 0.15, 60))
    assert sum(one.verdict == wrong for one in found) <= 6
    assert any(one.verdict == "cannot be told" for one in found)


@pytest.mark.parametrize("sd", [0.15, 0.5])
def test_a_tone_scale_on_its_aim_does_not_fail_for_noise(sd):
    said = []
    for seed in range(25):
        noise = np.random.default_rng(900 + seed).normal(0.0, sd, (LEVELS.size, 3))
        said.append(analyse(reading_of(LEVELS, ramp_lab(LEVELS) + noise), lights=()).tone.verdict)
    assert said.count("fail") <= 1
    assert said.count("pass") >= 23


def test_a_tone_scale_off_by_more_than_the_grade_fails_and_near_the_limit_none_is_sure():
    """The exhibition grade allows a mean ΔL* of 2.0: a hump of 1.7, 2.0 and 2.5 in the mean."""
    said = {}
    for mean in (1.7, 2.0, 2.5):
        # The mean over L* of a half wave is 2/π of its height, of tones without paper and black.
        hump = mean * np.pi / 2 * np.sin(np.pi * LEVELS)
        verdicts = []
        for seed in range(8):
            lab = ramp_lab(LEVELS) + np.random.default_rng(seed).normal(0.0, 0.3, (LEVELS.size, 3))
            lab[:, 0] += hump
            verdicts.append(analyse(reading_of(LEVELS, lab), lights=()).tone.verdict)
        said[mean] = verdicts
    assert "fail" not in said[1.7]
    assert said[2.0].count("cannot be told") >= 4
    assert "pass" not in said[2.5]


@pytest.mark.parametrize("sd", [0.05, 0.5])
def test_drifts_are_drawn_from_the_mixture_of_gaussian_processes(sd: float) -> None:
    """Rasmussen and Williams (2006), equations 2.23 and 2.24, each weighed by its likelihood."""
    level = np.linspace(0.1, 0.9, 7)
    y = np.column_stack([np.sin(3 * level), 0.5 - level])
    sds, shared = sd * np.linspace(1.0, 2.0, 7), 0.1 * np.ones((7, 1))
    kernels, logs = _kernels(level.tobytes())
    total = kernels + np.diag(sds**2) + shared @ shared.T
    logs = logs + [multivariate_normal.logpdf(y.T, np.zeros(7), one).sum() for one in total]
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    gain = kernels @ np.linalg.inv(total)
    means = gain @ y
    within = np.diagonal(kernels - gain @ kernels, axis1=1, axis2=2)
    mean = np.tensordot(weights, means, 1)
    square = np.tensordot(weights, within[..., np.newaxis] + means**2, 1)
    drawn = credible_drifts(level, y, sds, shared)
    spread = np.sqrt(square - mean**2)
    np.testing.assert_array_less(np.abs(drawn.mean(axis=0) - mean), 0.1 * spread)
    # Of 500 draws, a few parts in a hundred; mixtures have longer tails.
    np.testing.assert_allclose(drawn.std(axis=0), spread, rtol=0.15)


def test_tones_of_opposite_hue_are_not_one_cast():
    """Reddish, one greenish tone, reddish: the odd tone is not called reddish."""
    delta = np.array([[1.5, 0], [1.5, 0], [-1.5, 0], [1.5, 0], [1.5, 0]])
    casts = find_casts([0.3, 0.4, 0.5, 0.6, 0.7], delta, [False] * 5, 0.05)
    assert [(one.from_level, one.to_level, one.hue) for one in casts] == [
        (0.3, 0.4, "reddish"),
        (0.6, 0.7, "reddish"),
    ]


@pytest.mark.parametrize("stronger", ["lighter", "darker"])
def test_neighbours_of_two_hues_are_two_casts_but_a_lone_tone_belongs_to_its_neighbours(stronger):
    """Hues 0 and 75 degrees, whichever is the stronger."""
    hue = np.radians([0, 0, 0, 75, 75, 75])
    delta = 2.0 * np.column_stack([np.cos(hue), np.sin(hue)])
    delta[slice(3, None) if stronger == "lighter" else slice(3)] *= 1.5
    level = [0.2, 0.3, 0.4, 0.5, 0.6, 0.7]
    casts = find_casts(level, delta, [False] * 6, 0.05)
    assert [(one.from_level, one.to_level) for one in casts] == [(0.2, 0.4), (0.5, 0.7)]
    kept = [2, 3, 4, 5] if stronger == "lighter" else [0, 1, 2, 3]
    (one,) = find_casts([level[i] for i in kept], delta[kept], [False] * 4, 0.05)
    assert (one.from_level, one.to_level) == (level[kept[0]], level[kept[-1]])


@pytest.mark.parametrize("freedom", [2, 4, 7.5, 20, 100, 1000, 1e6])
def test_students_quantile_is_scipys(freedom: float) -> None:
    shares = (0.5, 0.6, 0.9, 0.975, 0.999, 0.9999)
    expected = [stdtrit(freedom, share) for share in shares]
    found = [student_quantile(freedom, share) for share in shares]
    np.testing.assert_allclose(found, expected, rtol=2e-6)
    far = np.array([0.0, 0.5, 2.0, 7.0, 30.0])
    np.testing.assert_allclose(student_tail(far, freedom), stdtr(freedom, -far), rtol=1e-6)
