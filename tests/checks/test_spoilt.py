"""One spoilt patch is found by what all others let expect of it; noise alone raises no alarm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.array_printers import halftone_printer
from support.lab_printers import kinked_printer

from greyscale.checks.spoilt import spoilt_patches
from greyscale.readings.reading import Reading


def _ramp(sd: float, seed: int, count: int = 33) -> Reading:
    """A smooth ramp with a drift in a* and b*, and normal noise."""
    level = np.linspace(0.0, 1.0, count)
    lab = np.stack(
        [8 + 88 * level**1.1, 1.5 * np.sin(3 * level), -2 + 3 * np.cos(2 * level)], axis=1
    )
    lab += np.random.default_rng(seed).normal(0.0, sd, lab.shape)
    ids = tuple(str(k + 1) for k in range(count))
    return Reading("ramp", "ramp.txt", ids, np.stack([level] * 3, axis=1), lab)


@pytest.mark.parametrize("sd", [0.0, 0.1, 0.2, 0.5])
def test_noise_alone_is_no_spoilt_patch_in_one_reading_of_a_hundred(sd: float) -> None:
    alarms = sum(bool(spoilt_patches(_ramp(sd, seed))) for seed in range(100))
    assert alarms <= 1


@pytest.mark.parametrize("size", [4.0, -4.0, 10.0])
def test_a_spoilt_patch_is_named_with_its_departure(size: float) -> None:
    reading = _ramp(0.1, 3)
    lab = reading.lab.copy()
    lab[14, 1] += size
    (found,) = spoilt_patches(replace(reading, lab=lab))
    assert (found.id, found.index) == ("15", 14)
    assert found.departure[1] == pytest.approx(size, abs=0.6)
    assert found.z > 5


@pytest.mark.parametrize("count", [13, 33, 101])
def test_a_kink_where_an_ink_sets_in_is_no_spoilt_patch(count: int) -> None:
    device = np.repeat(np.linspace(0.0, 1.0, count)[:, np.newaxis], 3, axis=1)
    for onset in (0.1, 0.25, 0.38, 0.6, 0.85):
        printers = kinked_printer(onset), halftone_printer(onset), halftone_printer(onset, "mean")
        for seed, printer in enumerate(printers):
            for sd in (0.0, 0.05, 0.3):
                noise = np.random.default_rng(seed).normal(0.0, sd, device.shape)
                ids = tuple(map(str, range(count)))
                reading = Reading("ramp", "ramp.txt", ids, device, printer.lab(device) + noise)
                assert not spoilt_patches(reading)


def test_repeats_bear_out_an_odd_tone_and_the_only_black_is_never_set_aside() -> None:
    reading = _ramp(0.1, 6)
    again = reading.select(np.append(np.arange(33), 14))
    lab = again.lab.copy()
    lab[[14, 33], 1] += 4.0
    again = replace(again, ids=(*reading.ids, "15 again"), lab=lab)
    assert not spoilt_patches(again)
    lab = reading.lab.copy()
    lab[0, 1] += 20.0
    assert not spoilt_patches(replace(reading, lab=lab))


def test_its_neighbours_are_not_blamed_and_two_are_both_named() -> None:
    reading = _ramp(0.1, 4, 65)
    lab = reading.lab.copy()
    lab[20, 2] += 6.0
    lab[44, 1] -= 5.0
    found = spoilt_patches(replace(reading, lab=lab))
    assert {patch.index for patch in found} == {20, 44}


def test_time_grows_with_the_patches_not_with_their_cube() -> None:
    large = _ramp(0.2, 5, 2_000)
    lab = large.lab.copy()
    lab[1234, 1] += 8.0
    assert [patch.index for patch in spoilt_patches(replace(large, lab=lab))] == [1234]
