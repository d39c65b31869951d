"""Has the printer changed? Judged on printers that did, and on those that did not."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from support.logged import reading

from greyscale.analysis.analyse import analyse
from greyscale.analysis.control_chart import control_chart, creeping, watch
from greyscale.analysis.followed import CHARACTERISTICS, LEAST_READINGS, WATCHED
from greyscale.analysis.trend import (
    DatedAnalysis,
    _deltas_at,
    _noise,
    movement,
    trend,
)
from greyscale.base.errors import BadInput

MIDDLE = (np.cos(0.1 * np.pi) - np.cos(0.9 * np.pi)) / (0.8 * np.pi)
"""Mean of the half wave by which `reading` moves tones, from level 0.1 to 0.9."""

FIRST = datetime(2026, 3, 4, 10, 30)
DAILY = 0.1  # What an unchanged printer varies by from day to day, sd of a*, b*, L* of mid-tones.


def followed(count, *, at=None, seed=0, daily=DAILY, baseline=None, rising=None, **step):
    """A trend of so many weeks; from reading `at` on the print has moved by a step.

    `rising` names what grows by a little each week instead.
    """
    random = np.random.default_rng(seed)
    dated = []
    for i in range(count):
        moved = dict(zip("Lab", random.normal(0.0, daily, 3), strict=True))
        for name, size in step.items():
            if at is not None and i >= at:
                moved[name] = moved.get(name, 0.0) + size
        if rising:
            moved[rising] += 0.12 * i
        one = reading(1000 * seed + i, noise=0.1, **moved)
        dated.append(DatedAnalysis(i + 1, FIRST + timedelta(weeks=i), analyse(one, lights=())))
    return trend(dated, baseline)


def test_an_unchanged_printer_is_said_to_be_so():
    found = followed(12)
    assert found.verdict in ("steady", "once")
    assert not found.changed
    assert not found.worth_correcting
    assert found.since is None
    assert found.moved.mean_delta_Ch < 0.5


@pytest.mark.parametrize(
    ("step", "shown_by", "hue"),
    [
        ({"a": 1.5}, "mean_delta_a", "reddish"),
        ({"a": -1.5}, "mean_delta_a", "greenish"),
        ({"b": 1.5}, "mean_delta_b", "yellowish"),
        ({"b": -1.5}, "mean_delta_b", "bluish"),
    ],
)
def test_a_cast_that_sets_in_is_seen_named_and_dated(step, shown_by, hue):
    found = followed(14, at=9, **step)
    assert found.changed
    assert shown_by in found.signalled
    assert found.since == 9
    assert found.moved.hue == hue
    assert found.worth_correcting
    assert found.moved.mean_delta_Ch == pytest.approx(1.5 * MIDDLE, abs=0.25)
    assert found.moved.max_delta_Ch == pytest.approx(1.5, abs=0.4)


def test_a_tone_scale_that_sinks_is_seen():
    found = followed(14, at=9, L=-3.0)
    assert "mean_delta_L" in found.signalled
    assert found.moved.mean_delta_L == pytest.approx(-3.0 * MIDDLE, abs=0.35)
    assert found.moved.mean_size_delta_L == pytest.approx(3.0 * MIDDLE, abs=0.35)
    assert found.worth_correcting


def test_another_paper_white_is_the_papers_and_needs_no_correction():
    """Aims follow the paper, so its tint is no error of the tones."""
    found = followed(14, at=9, paper_b=1.5)
    assert "paper_b" in found.signalled
    assert found.since == 9
    assert found.moved.paper[2] == pytest.approx(1.5, abs=0.3)


def test_a_slow_drift_is_seen_before_any_step():
    found = followed(14, rising="b", daily=0.02)
    assert found.changed
    assert "mean_delta_b" in found.signalled


def test_a_creep_that_no_step_betrays_is_seen_within_nine_readings():
    """Of printers whose mean Δa* creeps by 1.2 over nine sheets that vary by 0.15 each."""
    random = np.random.default_rng(7)
    usual = np.array([one.usual for one in WATCHED], dtype=np.float64)
    found = []
    for _ in range(40):
        values = 1.25 * usual * random.normal(size=(9, usual.size))
        values[:, 0] += 1.2 * np.linspace(0.0, 1.0, 9)
        found.append(creeping(values, usual))
    assert sum(one is not None for one in found) >= 36
    assert 3 < np.mean([one for one in found if one is not None]) < 6


def test_readings_that_are_like_the_one_before_are_seldom_called_a_creep():
    """Of steady printers with a correlation of 0.5 from reading to reading, asked once at 30."""
    random = np.random.default_rng(11)
    usual = np.array([one.usual for one in WATCHED], dtype=np.float64)
    called = 0
    for _ in range(200):
        values = random.normal(size=(30, usual.size))
        for before in range(29):
            values[before + 1] = 0.5 * values[before] + 0.75**0.5 * values[before + 1]
        called += creeping(values * usual, usual) is not None
    assert called <= 12


def test_a_change_too_small_to_be_noticed_is_called_so():
    found = followed(16, at=10, b=0.35, daily=0.01)
    assert found.changed
    assert not found.worth_correcting


def test_one_misread_chart_is_no_change_of_the_printer():
    base = list(followed(12).readings)
    odd = base[5]
    misread = analyse(reading(77, b=4.0), lights=())
    base[5] = replace(odd, analysis=misread)
    found = trend(base)
    assert not found.changed
    assert found.verdict == "once"
    assert 5 in found.stands_out


def test_a_misread_chart_makes_nothing_of_what_follows():
    """It must not pull the centre so far that all readings after it lie on one side."""
    worth = 0
    for seed in range(5):
        readings = list(followed(12, seed=seed).readings)
        odd = analyse(reading(seed, b=5.0), lights=())
        readings[4] = replace(readings[4], analysis=odd)
        found = trend(readings)
        worth += found.worth_correcting
        assert 4 in found.stands_out
        assert found.moved.max_delta_Ch < 1.5
    assert worth == 0


def test_fewer_than_five_say_nothing_of_a_change():
    for count in (2, 3, 4):
        found = followed(count, at=count - 1, b=6.0)
        assert found.verdict == "too few"
        assert not found.worth_correcting
        assert found.moved.mean_delta_Ch > 2
    assert followed(5, at=4, b=6.0).changed


def test_a_single_reading_has_no_charts():
    found = followed(1)
    assert (found.verdict, found.charts, found.moved, found.baseline) == ("too few", {}, None, 1)
    with pytest.raises(BadInput, match="no reading to follow"):
        trend([])


def test_the_order_given_does_not_matter():
    ordered = followed(8, at=6, a=1.5)
    again = trend(ordered.readings[::-1])
    assert [one.number for one in again.readings] == list(range(1, 9))
    assert again.signalled == ordered.signalled
    assert again.since == ordered.since


def test_limits_of_a_baseline():
    found = followed(12, at=8, b=1.0, baseline=8)
    alone = followed(8)
    for one in CHARACTERISTICS:
        assert found.charts[one.key].upper == pytest.approx(alone.charts[one.key].upper)
    assert found.baseline == 8
    for wrong in (1, 13):
        with pytest.raises(BadInput, match="give 2 to 12"):
            followed(12, baseline=wrong)


def test_charts_are_those_of_the_analyses_numbers():
    found = followed(9)
    numbers = {
        "mean_delta_Ch": [one.analysis.neutrality.mean_delta_Ch for one in found.readings],
        "rms_delta_L": [one.analysis.tone.rms_delta_L for one in found.readings],
        "paper_b": [one.analysis.paper[2] for one in found.readings],
        "black_L": [one.analysis.black[0] for one in found.readings],
    }
    for key, values in numbers.items():
        np.testing.assert_array_equal(found.charts[key].values, values)
    least = control_chart(numbers["mean_delta_Ch"], least=0.0)
    assert found.charts["mean_delta_Ch"].lower == least.lower


def alarms(count: int, asks: range, seed: int, sheets: float) -> list[int | None]:
    """When steady series are first said to have changed, asked again and again; None for never.

    What sheets vary by is known to the simulation alone, and goes together in part.
    """
    random = np.random.default_rng(seed)
    usual = np.array([one.usual for one in WATCHED], dtype=np.float64)
    found: list[int | None] = []
    for _ in range(count):
        sd = usual * sheets * random.uniform(0.6, 1.6, usual.size)
        values = sd * (random.normal(size=(50, usual.size)) + 0.5 * random.normal(size=(50, 1)))
        said = (
            n
            for n in asks
            if watch(values[:n], usual, LEAST_READINGS - 1).since is not None
            or creeping(values[:n], usual) is not None
        )
        found.append(next(said, None))
    return found


@pytest.mark.parametrize(
    ("count", "asks"),
    [(10, range(5, 51, 5)), pytest.param(150, range(5, 51), marks=pytest.mark.exhaustive)],
)
@pytest.mark.parametrize("sheets", [0.5, 1.0, 2.0])
def test_a_steady_printer_is_followed_for_200_readings_until_it_is_called_changed(
    count: int, asks: range, sheets: float
) -> None:
    """The run length in control: readings followed, over alarms raised (ISO 7870-6, by title).

    A rate of one in 200 lets a fifth of the series come to an alarm within these 46 readings.
    """
    first = alarms(count, asks, 3, sheets)
    raised = sum(one is not None for one in first)
    followed_for = sum((one or 50) - LEAST_READINGS + 1 for one in first)
    assert followed_for >= 200 * max(raised - (2 if count < 100 else 0), 0)


@pytest.mark.parametrize("good", [2, 3, 6])
@pytest.mark.parametrize("since", [1, 4])
def test_a_printer_that_has_come_back_is_not_called_changed(good: int, since: int) -> None:
    """Even where a reading of the change came before any that may raise an alarm."""
    usual = np.array([one.usual for one in WATCHED], dtype=np.float64)
    values = usual / 2 * np.random.default_rng(good).normal(size=(good + 3 + since, usual.size))
    values[good : good + 3] += 30 * usual
    found = watch(values, usual, LEAST_READINGS - 1)
    assert (found.since, found.came_back) == (None, (good, good + 1, good + 2))
    still = watch(values[: good + 3], usual, LEAST_READINGS - 1)
    assert (still.since, still.came_back) == (good, ())


@pytest.mark.parametrize("seed", [20, 28, 227])
def test_sheets_that_vary_more_than_usual_are_no_early_jump_if_the_fifth_is_none(seed: int) -> None:
    usual = np.array([one.usual for one in WATCHED], dtype=np.float64)
    values = 2.5 * usual * np.random.default_rng(seed).normal(size=(8, usual.size))
    assert watch(values[:4], usual, LEAST_READINGS - 1).changed is not None
    found = watch(values, usual, LEAST_READINGS - 1)
    assert (found.since, found.came_back) == (None, ())


@pytest.mark.parametrize("at", [6, 12])
def test_a_step_of_one_is_found_after_one_or_two_readings(at: int) -> None:
    for seed, (way, sign) in enumerate([("a", 1), ("a", -1), ("b", 1), ("b", -1)]):
        step = {way: sign / MIDDLE}
        found = followed(at + 2, at=at, seed=seed, **step)
        assert found.changed
        assert found.since == at


def test_how_often_a_change_looks_like_chance():
    """Of printers that moved by ΔCh 1.2 on average, most are found out by the third reading."""
    quiet = [followed(12, seed=seed) for seed in range(10)]
    assert not any(one.worth_correcting for one in quiet)
    moved = [followed(12, at=9, b=1.5, seed=seed) for seed in range(10)]
    assert sum(one.worth_correcting for one in moved) >= 9
    assert sum(one.since == 9 for one in moved) >= 9


def test_movement_between_charts_of_unlike_steps():
    """A coarse chart of the same print as a fine one: nothing has moved."""
    fine = analyse(reading(1, noise=0.0, b=2.0), lights=())
    rows = np.isclose(reading(1).level * 5 % 1, 0, atol=1e-6) | np.isclose(reading(1).level, 1)
    coarse = analyse(reading(1, noise=0.0, b=2.0).select(rows), lights=())
    assert len(coarse.patches) < len(fine.patches)
    assert movement([fine], coarse).mean_delta_Ch < 1e-6
    assert movement([coarse], fine).mean_delta_Ch < 0.2


def test_noise_is_taken_out_of_a_movement():
    """Noise of sd 0.5 lets a movement look larger than it is."""
    pairs = [
        [analyse(reading(seed, noise=0.5), lights=()) for seed in (seed, 500 + seed)]
        for seed in range(60)
    ]
    alike = [movement([one], other) for one, other in pairs]
    # Two parts of the sd 0.5 · sqrt(2) have this mean length; the middle tone was read twice.
    length = 0.5 * np.sqrt(2) * np.sqrt(np.pi / 2) * np.sqrt((8 + 1 / 2) / 9)
    assert np.mean([one.mean_delta_Ch for one in alike]) == pytest.approx(length, rel=0.1)
    apart = [
        movement([one], analyse(reading(900 + seed, noise=0.5, b=1.5), lights=()))
        for seed, (one, _) in enumerate(pairs)
    ]
    true = 1.5 * MIDDLE
    raw = np.mean([one.mean_delta_Ch for one in apart])
    assert raw > 1.1 * true
    without = np.mean([one.without_noise_delta_Ch for one in apart])
    assert abs(without - true) < 0.5 * abs(raw - true)


def test_what_is_followed_is_what_an_analysis_found():
    one = analyse(reading(3, a=1.0, b=-0.5, L=0.7, paper_b=2.0), lights=())
    patches, tones = one.patches, one.patches.is_tone
    L = patches.lab[tones, 0]

    def mean(values):
        return np.trapezoid(values[tones], L) / np.trapezoid(np.ones(L.size), L)

    expected = {
        "mean_delta_Ch": mean(patches.delta_Ch), "max_delta_Ch": patches.delta_Ch[tones].max(),
        "mean_delta_a": mean(patches.delta_ab[:, 0]), "mean_delta_b": mean(patches.delta_ab[:, 1]),
        "mean_delta_L": mean(patches.delta_L), "rms_delta_L": one.tone.rms_delta_L,
        "paper_L": patches.lab[0, 0], "paper_a": patches.lab[0, 1], "paper_b": patches.lab[0, 2],
        "black_L": patches.lab[-1, 0],
    }  # fmt: skip
    found = {each.key: each.value(one) for each in CHARACTERISTICS}
    assert found == pytest.approx(expected, abs=1e-9)
    assert len(set(np.round(list(found.values()), 6))) == len(found)


@pytest.mark.exhaustive
def test_the_noise_of_a_movement_is_that_of_repeated_readings():
    """Mean ΔCh and mean |ΔL*| between two readings of one print, over 150 pairs.

    Against aims that stay where they are: others move with the paper's and the black's own noise.
    """
    fixed = {"neutral": "absolute", "scaling": "none", "lights": ()}
    readings = [analyse(reading(k, noise=0.5), **fixed) for k in range(300)]
    # Nine tones; the middle one was read twice, and is left out here.
    level = np.array([0.1, 0.2, 0.3, 0.4, 0.6, 0.7, 0.8, 0.9])
    deltas = np.array([_deltas_at(one, level) for one in readings])
    moved = deltas[1::2] - deltas[::2]
    told = _noise(readings[:1], readings[1])
    repeats = readings[1].reading.repeatability
    # As it would be with the standard deviation that the readings really have.
    Ch, L = np.array(told) / (repeats.sd_Ch, repeats.sd_L) * 0.5 / np.sqrt(17 / 18)
    assert np.hypot(moved[..., 1], moved[..., 2]).mean() == pytest.approx(Ch, rel=0.05)
    assert np.abs(moved[..., 0]).mean() == pytest.approx(L, rel=0.05)
