"""A correction of tone alone sends equal channels, and corrects the tone scale."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from support.correction_loop import chart, subject

from greyscale.correction.correct import correct
from greyscale.correction.record import Options
from greyscale.readings.reading import Reading


def test_tone_alone_leaves_the_channels_equal_and_meets_the_tone_aim() -> None:
    who, device = subject("no black ink, tinted"), chart(near_neutral=True)
    lab = who.lab(device) + np.random.default_rng(2).normal(0.0, 0.1, device.shape)
    ids = tuple(f"P{number}" for number in range(len(device)))
    made = correct([Reading("sheet", "sheet", ids, device, lab)], Options(tone_only=True))
    assert (np.ptp(made.curve.rgb, axis=1) == 0.0).all()
    printed = who.lab(made.curve.rgb)
    assert np.abs(printed[:, 0] - made.aim_lab[:, 0]).max() < 0.6
    assert made.helps
    now = made.expectation
    worse = replace(
        now,
        after_mean_delta_Ch=now.before_mean_delta_Ch,
        after_mean_delta_L=now.before_mean_delta_L,
    )
    assert not replace(made, expectation=worse).helps
