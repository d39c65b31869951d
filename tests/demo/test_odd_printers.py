"""The printers to test against are odd in the ways they say, and no odder."""

import numpy as np
import pytest
from support.lab_printers import (
    LabPrinter,
    axis_printer,
    kinked_printer,
    random_printer,
    reversing_printer,
)

LEVELS = np.linspace(0.0, 1.0, 201)
RAMP = np.repeat(LEVELS[:, None], 3, axis=1)


def cast(lab):
    """Give a*, b* beside the fading aim (ISO 12647-2:2013, 4.2.8; memory) of a rising ramp."""
    paper, black = lab[-1], lab[0]
    fading = 1 - 0.85 * (paper[0] - lab[:, 0]) / (paper[0] - black[0])
    return lab[:, 1:] - paper[1:] * fading[:, None]


def test_300_random_printers_rise_and_stay_within_their_cast():
    peaks = []
    for seed in range(300):
        lab = random_printer(seed).lab(RAMP)
        assert np.isfinite(lab).all()
        assert np.diff(lab[:, 0]).min() > 0.01
        peaks.append(np.hypot(*cast(lab).T).max())
    # The black's own tint may add a little to the cast drawn.
    assert max(peaks) < 8.8
    assert np.percentile(peaks, 10) < 2.5
    assert np.percentile(peaks, 90) > 6.0


def test_a_random_printer_is_the_same_for_the_same_seed_only():
    assert np.array_equal(random_printer(7).lab(RAMP), random_printer(7).lab(RAMP))
    assert not np.allclose(random_printer(7).lab(RAMP), random_printer(8).lab(RAMP), atol=0.5)


def test_an_axis_measures_as_wanted():
    levels = np.linspace(0, 1, 9)
    lab = np.column_stack([15 + 80 * levels, 3 * np.sin(6 * levels), -2 * np.cos(5 * levels)])
    printer = axis_printer("as wanted", levels, lab)
    assert printer.lab(np.repeat(levels[:, None], 3, axis=1)) == pytest.approx(lab, abs=1e-6)


@pytest.mark.parametrize("printer", [random_printer(1), kinked_printer(), reversing_printer()])
def test_a_nudged_channel_moves_the_colour_towards_its_primary(printer: LabPrinter):
    for level in (0.15, 0.5, 0.85):
        grey = np.full((1, 3), level)
        red, green, blue = (printer.lab(grey + 0.04 * np.eye(3)[i]) for i in range(3))
        middle = printer.lab(grey)
        assert red[0, 1] > middle[0, 1]
        assert green[0, 1] < middle[0, 1]
        assert blue[0, 2] < middle[0, 2]


def test_black_sets_in_with_a_kink():
    lab = kinked_printer(onset=0.4).lab(RAMP)
    bend = np.abs(np.diff(lab, n=2, axis=0))
    at_onset = 79  # the second difference around level 0.40
    assert bend[at_onset, 0] > 20 * np.median(bend[:, 0])
    assert bend[at_onset, 1] > 20 * np.median(bend[:, 1])


def test_the_hue_turns_round_and_the_shadow_is_blocked():
    lab = reversing_printer().lab(RAMP)
    drift = cast(lab)
    highlight, shadow = drift[160], drift[50]
    assert highlight @ shadow / (np.hypot(*highlight) * np.hypot(*shadow)) < -0.95
    assert min(np.hypot(*highlight), np.hypot(*shadow)) > 3
    blocked = lab[LEVELS <= 0.06]
    assert np.ptp(blocked[:, 0]) < 0.5
    assert np.diff(lab[:, 0]).min() >= 0


def test_noise_of_a_reading_is_as_stated():
    printer = random_printer(2)
    device = np.full((4000, 3), 0.4)
    reading = printer.measure([str(i) for i in range(4000)], device, noise=0.2, seed=1)
    error = reading.lab - printer.lab(device[:1])
    assert error.std(axis=0, ddof=1) == pytest.approx([0.2] * 3, rel=0.05)
