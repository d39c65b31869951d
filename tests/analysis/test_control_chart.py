"""Control charts against worked examples in print, and against what chance does by itself.

The examples are from memory; that their numbers agree with each other is part of the test.
"""

import math

import numpy as np
import pytest
from published.figures import FLOW_RATE, MOISTURE

from greyscale.analysis.control_chart import (
    BEYOND,
    D2,
    D4,
    E2,
    FALL,
    RANGE,
    RISE,
    RUN,
    RUN_ONE_SIDE,
    Signal,
    change_point,
    control_chart,
)


def test_the_flow_rates_of_the_nist_handbook():
    chart = control_chart(FLOW_RATE)
    assert chart.centre == pytest.approx(50.81, abs=5e-5)
    assert chart.mean_range == pytest.approx(1.8778, abs=5e-5)
    assert chart.upper == pytest.approx(55.8041, abs=2e-4)
    assert chart.lower == pytest.approx(45.8159, abs=2e-4)
    # The handbook: the process is in control, since no value is beyond a limit.
    assert chart.signals == ()


def test_the_moisture_of_the_standards_own_example():
    chart = control_chart(MOISTURE)
    assert chart.centre == pytest.approx(3.45)
    assert chart.moving_range[1:] == pytest.approx([0.3, 0.4, 0.7, 0.5, 0.3, 0.5, 0.1, 0.5, 0.1])
    assert chart.mean_range == pytest.approx(0.38, abs=0.005)
    # The standard goes on from the mean range rounded to 0.38.
    assert chart.upper == pytest.approx(4.46, abs=0.01)
    assert chart.lower == pytest.approx(2.44, abs=0.01)
    assert chart.upper_range == pytest.approx(1.24, abs=0.01)
    assert chart.signals == ()


def test_the_factors_are_those_of_normal_values():
    """d2 is the mean of |x1 - x2|, D4 three of its standard deviations above (in means)."""
    d2 = 2 / math.sqrt(math.pi)
    d3 = math.sqrt(2 - d2**2)
    assert pytest.approx(d2, abs=5e-4) == D2
    assert pytest.approx(1 + 3 * d3 / d2, abs=1e-3) == D4
    assert pytest.approx(2.66, abs=5e-3) == E2


def test_a_value_beyond_a_limit():
    values = [*MOISTURE, 5.2, 3.4]
    signals = control_chart(values, baseline=10).signals
    assert Signal(BEYOND, 10, 10) in signals
    assert Signal(RANGE, 9, 10) in signals


def test_a_value_beyond_a_limit_counts_until_one_comes_back():
    stayed = control_chart([*MOISTURE, 5.2, 4.2], baseline=10)
    assert Signal(BEYOND, 10, 10) in stayed.active
    assert control_chart([*MOISTURE, 5.2, 3.6], baseline=10).active == (Signal(RANGE, 10, 11),)
    assert control_chart([*MOISTURE, 5.2, 4.2, 3.4], baseline=10).active == ()
    assert stayed.sigma == pytest.approx(0.378 / 1.128, abs=5e-4)


def test_seven_on_one_side_are_a_run_and_six_are_none():
    quiet = [0.0, 0.4, -0.4, 0.3, -0.5, 0.2]
    six = control_chart([*quiet, *[0.2, 0.3] * 3], baseline=6)
    assert [s.rule for s in six.signals] == [RUN_ONE_SIDE]  # With the 0.2 before, it is seven.
    broken = control_chart([*quiet, -0.1, *[0.2, 0.3] * 3], baseline=6)
    assert broken.signals == ()
    seven = control_chart([*quiet, -0.1, *[0.2, 0.3] * 3, 0.1], baseline=6)
    assert seven.active == (Signal(RUN_ONE_SIDE, 7, 13),)


def test_seven_in_steady_rise_or_fall():
    rising = [0.5, -0.5, *np.linspace(-0.3, 0.3, RUN - 1)]
    assert control_chart(rising).active == (Signal(RISE, 1, 7),)
    assert control_chart(-np.array(rising)).active == (Signal(FALL, 1, 7),)
    assert {s.rule for s in control_chart(rising[:-1]).signals}.isdisjoint({RISE, FALL})


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        # One in 370 normal values lies three standard deviations out.
        (BEYOND, 0.0027),
        # Of seven values in a row all lie on one side of the median twice in 2^7 times, and all
        # are in order twice in 7! times: counted by the windows that end within a stretch.
        (RUN_ONE_SIDE, 2 / 2**RUN),
        (RISE, 1 / math.factorial(RUN)),
        (FALL, 1 / math.factorial(RUN)),
    ],
)
def test_chance_alone_signals_as_often_as_probability_says(rule, expected):
    count = 1_000_000
    chart = control_chart(np.random.default_rng(8).normal(0.0, 1.0, count))
    length = 1 if rule == BEYOND else RUN
    windows = sum(s.last - s.first + 2 - length for s in chart.signals if s.rule == rule)
    # Four standard deviations of a count, twice as wide since windows overlap.
    assert windows == pytest.approx(count * expected, abs=8 * math.sqrt(count * expected))


def test_chance_alone_makes_one_large_jump_in_a_hundred():
    """P(|x1 - x2| > D4 d2 sd) for normal values: 0.0091 (from the normal distribution)."""
    from scipy.stats import norm

    chart = control_chart(np.random.default_rng(9).normal(0.0, 1.0, 200_000))
    jumps = sum(s.rule == RANGE for s in chart.signals) / 200_000
    assert jumps == pytest.approx(2 * norm.sf(D4 * D2 / math.sqrt(2)), rel=0.06)


def test_limits_of_a_baseline_do_not_know_what_came_later():
    later = control_chart([*MOISTURE, 9.0, 12.0], baseline=10)
    alone = control_chart(MOISTURE)
    assert (later.centre, later.lower, later.upper) == (alone.centre, alone.lower, alone.upper)


def test_values_left_out_count_for_no_limit_but_are_judged():
    values = [*MOISTURE[:5], 9.0, *MOISTURE[5:]]
    chart = control_chart(values, left_out=[5])
    assert chart.centre == pytest.approx(3.45)
    # Of the nine ranges, that from the fifth to the sixth is missing: 3.8 to 3.5.
    assert chart.mean_range == pytest.approx((3.4 - 0.3) / 8)
    assert Signal(BEYOND, 5, 5) in chart.signals


def test_one_value_that_jumps_out_and_back_is_alone_and_a_step_is_none():
    calm = [0.0, 0.4, -0.4, 0.3, -0.5, 0.2, -0.1, 0.1]
    assert control_chart([*calm, 6.0, *calm]).alone == (8,)
    assert control_chart([*calm, 6.0, 6.2, *calm]).alone == ()
    assert control_chart([*calm, *np.array(calm) + 6.0]).alone == ()
    assert control_chart([*calm, 6.0]).come_back_from == ()


def test_no_limit_lies_below_what_there_can_be():
    assert control_chart([0.1, 0.5, 0.2, 0.6], least=0.0).lower == 0.0


def test_equal_values_have_no_signal_and_one_that_differs_has():
    assert control_chart([1.0, 1.0, 1.0]).signals == ()
    assert control_chart([1.0, 1.0, 1.0, 1.1], baseline=3).active


@pytest.mark.parametrize(("values", "baseline"), [([1.0], None), ([1.0, 2.0], 3), ([1.0, 2.0], 1)])
def test_too_few_values(values, baseline):
    with pytest.raises(ValueError, match="limits need"):
        control_chart(values, baseline)


def test_the_change_point_is_found_within_noise():
    random = np.random.default_rng(3)
    found = [
        change_point(np.concatenate([random.normal(0, 1, 14), random.normal(4, 1, 6)]))
        for _ in range(200)
    ]
    assert np.mean(np.array(found) == 14) > 0.9


def test_a_step_at_either_end_is_found():
    assert change_point([0.0, 0.0, 0.0, 0.0, 5.0]) == 4
    assert change_point([5.0, 0.0, 0.0, 0.0, 0.0]) == 1


def test_beyond_one_limit_and_then_the_other_is_twice_beyond():
    values = [0.0, 0.1, -0.1] * 6 + [5.0, -5.0] + [0.0, 0.1, -0.1]
    chart = control_chart(values, baseline=18)
    beyond = [signal for signal in chart.signals if signal.rule == BEYOND]
    assert beyond == [Signal(BEYOND, 18, 18), Signal(BEYOND, 19, 19)]
