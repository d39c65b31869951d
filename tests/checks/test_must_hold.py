"""What must hold of the checks over 300 readings from printers nobody knows.

Shuffled charts of 33 tones with near-neutral patches and repeats; printers with casts up to ΔCh 8
and odd tone curves; noise of ΔE sd 0.15. No source: simulated readings, seeded.
"""

from __future__ import annotations

import numpy as np
import pytest
from support.families import family
from support.misreading import (
    Misread,
    backwards,
    chart_layout,
    clean_reading,
    early,
    late,
    put_right,
    strips_of,
    swapped,
)

from greyscale.checks.checking import check
from greyscale.readings.layout import Layout
from greyscale.readings.reading import Reading

CHARTS = 12


@pytest.fixture(params=family([50, 300], [50]))
def readings(request: pytest.FixtureRequest) -> int:
    """How many are tried; of the claim's 300 every time the first fifty."""
    return int(request.param)


def _chart_and_reading(seed: int) -> tuple[Layout, Reading]:
    layout = chart_layout(seed % CHARTS)
    return layout, clean_reading(layout, seed)


def _spoilt(kind: str, layout: Layout, clean: Reading, seed: int) -> Misread:
    random = np.random.default_rng(1000 + seed)
    strips = strips_of(layout)
    strip = strips[random.integers(len(strips))]
    if kind == "backwards":
        return backwards(clean, strip)
    if kind == "swapped":
        first, second = random.choice(len(strips), 2, replace=False)
        return swapped(clean, strips, int(first), int(second))
    spoil = late if seed % 2 else early
    start = 0 if seed % 4 < 2 else int(random.integers(len(strip) - 1))
    return spoil(clean, strip, start)


def test_at_most_one_clean_reading_in_a_hundred_gives_an_alarm(readings: int) -> None:
    alarms = 0
    for seed in range(readings):
        layout, clean = _chart_and_reading(seed)
        alarms += not check(clean, layout).clean
    assert alarms / readings <= 0.01


@pytest.mark.parametrize("kind", family(["backwards", "swapped"], ["swapped"]))
def test_a_strip_backwards_or_swapped_is_repaired_to_the_exact_order(
    kind: str, readings: int
) -> None:
    right = 0
    for seed in range(readings):
        layout, clean = _chart_and_reading(seed)
        spoilt = _spoilt(kind, layout, clean, seed)
        result = check(spoilt.reading, layout)
        right += result.certain and put_right(spoilt, result.repaired)
    assert right / readings >= 0.99


def test_a_shifted_strip_is_put_right_as_far_as_measured_and_the_lost_patch_is_named(
    readings: int,
) -> None:
    right = 0
    for seed in range(readings):
        layout, clean = _chart_and_reading(seed)
        spoilt = _spoilt("shifted", layout, clean, seed)
        result = check(spoilt.reading, layout)
        lost = layout.places[spoilt.lost[0]]
        named = any(lost in finding.found for finding in result.findings)
        right += named and put_right(spoilt, result.repaired)
    assert right / readings >= 0.99
