"""What is said of corrections from ramps alone, whose answers beside the axis are supposed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.kinds_of_printers import KINDS

from greyscale.analysis.analyse import analyse
from greyscale.charts.chart import make_chart
from greyscale.colorimetry.cielab import mean_over_lightness
from greyscale.correction.correct import correct
from greyscale.correction.sureness import prediction_error
from greyscale.readings.reading import Reading

LAYOUT = make_chart("chart").layout
LEVELS = np.arange(8, 255) / 255


def read(lab: np.ndarray, seed: int, name: str = "chart") -> Reading:
    measured = lab + np.random.default_rng(seed).normal(0.0, 0.1, lab.shape)
    return Reading(name, name, LAYOUT.ids, LAYOUT.device, measured)


def test_the_range_holds_what_printers_of_other_kinds_turn_out_to_print() -> None:
    """True means by the printers themselves, which were kept out of tuning, without noise."""
    inside, spans = [], []
    for number, kind in enumerate(KINDS):
        printer = KINDS[kind](21 + 2 * number)
        made = correct([read(printer.lab(LAYOUT.device), number)])
        true = printer.lab(made.curve.apply(np.repeat(LEVELS[:, None], 3, axis=1)))
        paper = printer.lab(np.ones((1, 3)))[0]
        # The fading aim (ISO 12647-2:2013; memory).
        off = true[:, 1:] - (1 - 0.85 * (1 - LEVELS))[:, None] * paper[1:]
        mean = mean_over_lightness(np.hypot(*off.T), true[:, 0])
        _, least, most = made.expectation.on_another_sheet(1, supposed=True)
        inside.append(least <= mean <= most)
        spans.append(most / least)
    assert np.mean(inside) >= 5 / 8
    assert max(spans) < 4.0


@pytest.mark.parametrize(("times", "kept"), [(1.0, True), (2.2, False)])
def test_a_print_beyond_the_range_does_not_keep_the_promise(times: float, kept: bool) -> None:
    """A tint that the wide bands of a ramp alone hold, and its range does not."""
    made = correct([read(KINDS["smooth"](1).lab(LAYOUT.device), 1)])
    level = LAYOUT.device.mean(axis=1)
    aim = np.column_stack([np.interp(level, made.curve.levels, c) for c in made.aim_lab.T])
    lab = made.curve.predict(level)
    tint = times * made.expectation.after_mean_delta_Ch * np.minimum(1.0, 8.0 * (1.0 - level))
    lab[:, 1:] = aim[:, 1:] + np.column_stack([tint, np.zeros_like(tint)])
    found = prediction_error(analyse(replace(read(lab, 2), name="proof"), lights=()), made)
    assert found.kept is kept
