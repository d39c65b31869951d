"""The tone scale against what is put in by construction, and by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.families import family
from support.grey_readings import (
    L_BLACK,
    L_PAPER,
    WAVELENGTHS,
    grey_spectra,
    ramp_lab,
    reading_of,
)

from greyscale.analysis.analyse import analyse
from greyscale.analysis.ramp import ramp_of
from greyscale.analysis.tonality import assess_tonality
from greyscale.colorimetry.cielab import visual_density

LEVELS = np.linspace(0, 1, 21)


def tone_of(L, level=LEVELS, **options):
    lab = ramp_lab(level)
    lab[:, 0] = L
    return analyse(reading_of(level, lab), **options).tone


def linear(level=LEVELS):
    return L_BLACK + (L_PAPER - L_BLACK) * np.asarray(level)


def test_a_ramp_on_its_aim_has_no_error():
    tone = tone_of(linear())
    assert tone.rms_delta_L == pytest.approx(0, abs=1e-9)
    assert tone.max_delta_L == pytest.approx(0, abs=1e-9)
    assert tone.smoothness == pytest.approx(0, abs=1e-9)
    assert tone.reversals == ()
    assert (tone.aim, tone.scaling) == ("lstar", "linear")


@pytest.mark.parametrize("aim", ["srgb", "gamma-1.8", "density"])
@pytest.mark.parametrize("scaling", ["linear", "black-point"])
def test_a_ramp_printed_to_an_aim_is_found_on_it(aim, scaling):
    from greyscale.aims.tone import tone_aim

    L = tone_aim(aim).target(LEVELS, L_BLACK, L_PAPER, scaling)
    assert tone_of(L, aim=aim, scaling=scaling).rms_delta_L == pytest.approx(0, abs=1e-9)
    assert tone_of(L).rms_delta_L > 1


def test_largest_error_and_where_with_its_sign_in_the_patches():
    L = linear()
    L[6] -= 4.0
    lab = ramp_lab(LEVELS)
    lab[:, 0] = L
    found = analyse(reading_of(LEVELS, lab))
    assert found.tone.max_delta_L == pytest.approx(4.0)
    assert found.tone.max_at_level == pytest.approx(0.3)
    row = np.argmin(np.abs(found.patches.level - 0.3))
    assert found.patches.delta_L[row] == pytest.approx(-4.0)


def test_rms_over_lightness_does_not_depend_on_where_tones_crowd():
    """An error of 2 over the middle half of L*: sqrt(4/2), however many tones are there."""

    def rms(level):
        return tone_of(linear(level) + np.where(np.abs(level - 0.5) < 0.25, 2.0, 0.0), level)

    even = np.linspace(0, 1, 401)
    crowded = np.unique(np.concatenate([np.linspace(0, 0.5, 401), np.linspace(0.5, 1, 41)]))
    assert rms(even).rms_delta_L == pytest.approx(np.sqrt(2), abs=0.01)
    assert rms(crowded).rms_delta_L == pytest.approx(np.sqrt(2), abs=0.03)


@pytest.mark.parametrize(
    ("fall", "found"),
    # Nothing repeated: sd 0.15. One in a hundred ramps of 20 steps: a normal value beyond 0.0005,
    # 3.2905 (any table); a fall counts beyond 3.2905 * 0.15 * sqrt(2) = 0.698.
    [(0.0, ()), (0.69, ()), (0.70, (0.15,)), (2.0, (0.15,))],
)
def test_a_reversal_is_a_fall_beyond_the_repeatability(fall, found):
    L = linear()
    L[3] = L[2] - fall
    assert tone_of(L).reversals == pytest.approx(found)


def test_reversals_of_repeated_tones_need_less():
    """Four readings of each tone with sd 0.3: falls beyond 3.45 * 0.3 * sqrt(2/4) = 0.73 count.

    Of Student's t with 63 degrees of freedom, 3.45 is exceeded by 0.0005.
    """
    rng = np.random.default_rng(2)
    L = linear()
    L[3] = L[2] - 1.0
    L[12] = L[11] - 0.1
    level = np.tile(LEVELS, 4)
    lab = ramp_lab(level)
    noise = rng.normal(0, 0.3, (4, 21))
    lab[:, 0] = (L + noise - noise.mean(axis=0)).reshape(-1)
    assert analyse(reading_of(level, lab)).tone.reversals == pytest.approx((0.15,))


@pytest.mark.parametrize("noise", family([0.08, 0.4], [0.4]))
def test_the_noise_of_a_blocked_shadow_is_no_reversal(noise):
    """Ten tones that print alike, twice: of 300 such readings some 3 may claim a reversal."""
    level = np.tile(LEVELS, 2)
    L = np.interp(level, [0, 0.45, 1.0], [L_BLACK, L_BLACK, L_PAPER])
    rng = np.random.default_rng(8)
    claims = 0
    for _ in range(300):
        lab = np.column_stack([L + rng.normal(0, noise, 42), np.zeros(42), np.zeros(42)])
        claims += bool(assess_tonality(ramp_of(reading_of(level, lab))).reversals)
    assert claims <= 8  # More is less likely than 1 in 200 (binomial, 300 times 0.01).


def test_distinct_ends_are_interpolated():
    """L* rises by 79 per unit of level, so one unit above black is at 1/79, below paper 78/79."""
    tone = tone_of(linear())
    assert tone.distinct_shadow_level == pytest.approx(1 / 79)
    assert tone.distinct_highlight_level == pytest.approx(78 / 79)


def test_blocked_shadows_are_found_where_they_end():
    """All tones up to 0.1 are as black as black; then L* rises to paper."""
    L = np.interp(LEVELS, [0, 0.1, 1.0], [L_BLACK, L_BLACK, L_PAPER])
    assert tone_of(L).distinct_shadow_level == pytest.approx(0.1 + 0.9 / 79)
    assert tone_of(L).distinct_highlight_level == pytest.approx(1 - 0.9 / 79)


@pytest.mark.parametrize("aim", ["srgb", "density", "gamma-2.2"])
def test_shadows_that_are_lost_beyond_the_limit_fail_however_near_the_aim(aim):
    """The exhibition grade has tones from 0.06 on distinct from black, and allows ΔL* 4."""
    from greyscale.aims.tone import tone_aim

    level = np.union1d(LEVELS, [0.02, 0.04, 0.06, 0.08])
    L = tone_aim(aim).target(level, L_BLACK, L_PAPER, "linear")
    for lost, verdict in ((0.04, "pass"), (0.06, "fail")):
        found = tone_of(np.where(level <= lost, L_BLACK, L), level, aim=aim, scaling="linear")
        assert found.max_delta_L < 4.0
        assert found.verdict == verdict


def test_density_range_from_spectra_by_hand():
    """ISO 5-3: a flat reflectance r has density -log10 r: log10(0.88/0.021) from black to paper."""
    found = analyse(reading_of(LEVELS, spectra=grey_spectra(LEVELS)))
    assert found.tone.density_range == pytest.approx(np.log10(0.88 / 0.021))
    assert found.tone.density_source == "spectra"
    np.testing.assert_allclose(
        found.patches.density, -np.log10(grey_spectra(LEVELS)[::-1, 0]), atol=1e-9
    )
    tinted = grey_spectra(LEVELS) * np.linspace(0.6, 1.4, WAVELENGTHS.size)
    reading = reading_of(LEVELS, spectra=tinted)
    np.testing.assert_allclose(reading.density, visual_density(tinted, WAVELENGTHS))


def test_density_range_without_spectra_comes_from_lightness_and_says_so():
    """Y of L* 95 and 16 is 87.618 and 2.0993."""
    found = analyse(reading_of(LEVELS, ramp_lab(LEVELS)))
    assert found.tone.density_range == pytest.approx(np.log10(87.6183 / 2.0993), abs=1e-5)
    assert found.tone.density_source == "L*"
    assert any("from L*" in remark for remark in found.remarks)


def test_smoothness_of_noise_is_about_1_2_of_its_sd():
    """A tone against the mean of two others: sqrt(1 + 1/2) sd."""
    level = np.linspace(0, 1, 2001)
    L = linear(level) + np.random.default_rng(0).normal(0, 0.2, level.size)
    assert tone_of(L, level).smoothness == pytest.approx(0.2 * np.sqrt(1.5), rel=0.03)


def test_smoothness_does_not_see_a_slope_or_uneven_steps():
    level = np.array([0, 0.02, 0.05, 0.1, 0.3, 0.4, 0.75, 0.9, 1.0])
    L = np.interp(level, [0, 1], [L_BLACK, L_PAPER])
    lab = ramp_lab(level)
    lab[:, 0] = L
    tone = analyse(reading_of(level, lab), scaling="none").tone  # the error is a straight line
    assert tone.rms_delta_L > 1
    assert tone.smoothness == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("level", "said"), [(0.0604, "0.0604"), (0.0649, "0.065"), (0.41, "0.41")])
def test_a_fault_is_told_from_its_limit_by_its_digits(level, said):
    fault = replace(
        tone_of(linear()), distinct_shadow_level=level, tolerance_shadow_level=0.06
    ).faults[-1]
    assert fault == f"shadows are distinct from black from level {said} (0.06 allowed)"
