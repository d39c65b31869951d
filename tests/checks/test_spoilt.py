"""One spoilt patch is found by what all others let expect of it; noise alone raises no alarm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats
from support.array_printers import SRGB_D50, halftone_printer
from support.correction_loop import chart
from support.kinds_of_printers import KINDS
from support.lab_printers import kinked_printer

from greyscale.checks.checking import check
from greyscale.checks.finding import SpoiltPatch
from greyscale.checks.likelihood import (
    CHROMATICNESS,
    LIGHTNESS,
    covariance,
    expected_lab,
    precisions,
)
from greyscale.checks.spoilt import (
    BENDS,
    _left_out,
    _surprise,
    _without,
    borne_out,
    spoilt_patches,
    spoilt_words,
)
from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.readings.reading import Reading

Array = NDArray[np.float64]


def _ramp(sd: float, seed: int, count: int = 33) -> Reading:
    """A smooth ramp with a drift in a* and b*, and normal noise."""
    level = np.linspace(0.0, 1.0, count)
    lab = np.stack(
        [8 + 88 * level**1.1, 1.5 * np.sin(3 * level), -2 + 3 * np.cos(2 * level)], axis=1
    )
    lab += np.random.default_rng(seed).normal(0.0, sd, lab.shape)
    ids = tuple(str(k + 1) for k in range(count))
    return Reading("ramp", "ramp.txt", ids, np.stack([level] * 3, axis=1), lab)


def test_each_value_is_judged_by_its_normal_distribution_given_all_the_others() -> None:
    """Rasmussen and Williams (2006), equations 2.23 and 2.24, solved directly; SciPy's densities.

    Of two readings with one noise, that with outliers is surprising up to 3 standard deviations.
    """
    reading = _ramp(0.2, 8, 13)
    departure = reading.lab - expected_lab(reading.device)
    L, ab, _ = precisions(reading.device, (0.25,), (4.0,))
    away, variance = _left_out(L[0], ab[0], departure)
    own = np.diag((0.25 * (1 + 3 * (1 - reading.level) ** 2)) ** 2)
    for channel, belief in enumerate((LIGHTNESS, CHROMATICNESS, CHROMATICNESS)):
        matrix = covariance(reading.device, belief, 0.0) + own
        for row in range(13):
            others = np.arange(13) != row
            weights = np.linalg.solve(matrix[np.ix_(others, others)], matrix[others, row])
            mean = weights @ departure[others, channel]
            assert away[row, channel] == pytest.approx(departure[row, channel] - mean, abs=1e-6)
            left = matrix[row, row] - weights @ matrix[others, row]
            assert variance[row, channel] == pytest.approx(left, rel=1e-6)
    sd = np.sqrt(variance)
    for outlier in (0.0, 40.0):
        away[3, 1] += outlier
        density = stats.norm.logpdf(np.clip(away, -3 * sd, 3 * sd), scale=sd)
        expected = -2 * density.sum() - away.size * np.log(2 * np.pi)
        assert _surprise(away, variance) == pytest.approx(expected, rel=1e-9)
    without = np.linalg.inv(np.delete(np.delete(np.linalg.inv(L[0]), 4, axis=0), 4, axis=1))
    np.testing.assert_allclose(_without(L[0], 4), without, rtol=1e-6, atol=1e-7)


@pytest.mark.parametrize("sd", [0.0, 0.1, 0.2, 0.5])
def test_noise_alone_is_no_spoilt_patch_in_one_reading_of_a_hundred(sd: float) -> None:
    alarms = sum(bool(spoilt_patches(_ramp(sd, seed), BENDS)) for seed in range(100))
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


@pytest.mark.parametrize("row", [1, 2, -3, -2])
@pytest.mark.parametrize("size", [5.0, -12.0])
def test_one_next_to_paper_or_black_is_named_too(row: int, size: float) -> None:
    sound = _ramp(0.15, 7)
    lab = sound.lab.copy()
    lab[row, 1] += size
    (found,) = spoilt_patches(replace(sound, lab=lab))
    assert found.index == row % len(sound)
    assert found.departure[1] == pytest.approx(size, abs=1.0)


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
                assert not spoilt_patches(reading, BENDS)


@pytest.mark.parametrize("kind", ["smooth", "two inks", "table of 33 nodes"])
@pytest.mark.parametrize("count", [21, 33])
def test_a_tone_that_its_neighbours_in_a_ramp_tell_is_named_where_it_is_off(
    kind: str, count: int
) -> None:
    """By 3 of L*, on printers that were kept out; the ramp as it is raises no alarm."""
    level = np.linspace(0.0, 1.0, count)
    device = np.repeat(level[:, np.newaxis], 3, axis=1)
    for seed in (301, 303, 305):
        noise = np.random.default_rng(seed).normal(0.0, 0.15, device.shape)
        lab = KINDS[kind](seed).lab(device) + noise
        reading = Reading("ramp", "ramp.txt", tuple(map(str, range(count))), device, lab)
        assert not spoilt_patches(reading, BENDS)
        for row in (4, count // 2, count - 5):
            off = lab.copy()
            off[row, 0] -= 3.0
            assert [one.ids for one in check(replace(reading, lab=off)).findings] == [(str(row),)]


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


@pytest.mark.parametrize(
    ("count", "begins", "ends"),
    [(1, "Patch 11", "measure it again (what measures the same then is the printer)."),
     (2, "2 patches of 'ramp' are", "12 (level 0.17, a* +5.0)."),
     (7, "7 patches of 'ramp' are", "15 (level 0.22, a* +5.0) and 2 more.")],
)  # fmt: skip
def test_spoilt_patches_are_named_up_to_five(count: int, begins: str, ends: str) -> None:
    found = [
        SpoiltPatch(str(11 + k), None, "ramp", (10 + k) / 64, 9.0, (0.0, 5.0, 0.0), 10 + k)
        for k in range(count)
    ]
    (said,) = spoilt_words(found)
    assert said.startswith(begins)
    assert said.endswith(ends)


def _three_greys(onset: float, top: float) -> Callable[[Array], Array]:
    """A light, a middle and a dark grey, by the least ink, which begin at once; colours beside."""
    density = np.array([[1.2, 0.25, 0.06], [0.15, 1.1, 0.3], [0.05, 0.12, 1.0]])
    greys = np.array([[0.45, 0.47, 0.52], [1.02, 1.0, 0.95], [1.9, 1.9, 1.9]])

    def lab(device: Array) -> Array:
        least = (1.0 - device).min(axis=1)
        laid = np.column_stack([
            np.interp(least, [0, 0.5, 0.62, 1], [0, top, 0.55 * top, 0.2]),
            np.interp(least, [0, onset, 0.75, 1], [0, 0, 0.85, 0.5]),
            np.interp(least, [0, onset + 0.27, 1], [0, 0, 1]),
        ])  # fmt: skip
        rgb = 0.9 * 10.0 ** -((1.0 - device - least[:, None]) @ density + laid @ greys)
        return xyz_to_lab(rgb @ SRGB_D50.T, SRGB_D50.sum(axis=1))

    return lab


def test_sound_tones_where_greys_set_in_are_not_named_and_spoilt_patches_there_are() -> None:
    """Presses that no rule was found on; patches off by 3 to 6 units, on the axis and beside it."""
    device, found, sound = chart(near_neutral=True), 0, 0
    inner = np.flatnonzero((device.min(axis=1) > 0.05) & (device.max(axis=1) < 0.95))
    for seed in range(20):
        random = np.random.default_rng(seed)
        lab = _three_greys(random.uniform(0.2, 0.45), random.uniform(0.7, 0.95))(device)
        lab += random.normal(0.0, 0.1, lab.shape)
        reading = Reading("sheet", "sheet.txt", tuple(map(str, range(len(lab)))), device, lab)
        sound += len(spoilt_patches(reading))
        row, spoilt = int(random.choice(inner)), lab.copy()
        away = random.normal(size=3)
        spoilt[row] += random.uniform(3, 6) * away / np.linalg.norm(away)
        found += row in {one.index for one in spoilt_patches(replace(reading, lab=spoilt))}
    assert sound == 0
    assert found >= 16


def test_what_a_repeat_or_two_others_close_by_or_the_lines_of_the_axis_bear_out() -> None:
    """A kink at 0.5 lies on a line from one side; 3 units beyond both, it does not."""
    level = np.linspace(0.0, 1.0, 21)
    device = np.repeat(level[:, None], 3, axis=1)
    lab = np.stack([60 * level + 40 * np.maximum(level - 0.52, 0.0), 0 * level, 0 * level], axis=1)
    others, near = np.delete(np.arange(21), 10), np.zeros(20)
    assert borne_out(device, lab, 10, others, 3.0, near)
    lab[10] += [0.0, 3.0, 0.0]
    assert not borne_out(device, lab, 10, others, 3.0, near)
    near[9] = 0.6  # The tone below is out as well,
    assert not borne_out(device, lab, 10, others, 3.0, near)
    near[10] = 0.6  # and that above: then the printer is.
    assert borne_out(device, lab, 10, others, 3.0, near)
    again = np.vstack([device, device[10]]), np.vstack([lab, lab[10] + 0.2])
    assert borne_out(*again, 10, np.append(others, 21), 3.0, np.zeros(21))


def test_time_grows_with_the_patches_not_with_their_cube() -> None:
    large = _ramp(0.2, 5, 2_000)
    lab = large.lab.copy()
    lab[1234, 1] += 8.0
    assert [patch.index for patch in spoilt_patches(replace(large, lab=lab))] == [1234]
