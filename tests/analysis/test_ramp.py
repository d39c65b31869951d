"""Which patches are the ramp, its paper and its black; what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from support.grey_readings import grey_spectra, ramp_lab, reading_of

from greyscale.analysis.analyse import analyse
from greyscale.base.errors import BadInput
from greyscale.readings.reading import Reading

LEVELS = np.linspace(0, 1, 11)


def test_patches_come_by_falling_level_whatever_their_order():
    order = np.random.default_rng(0).permutation(11)
    found = analyse(reading_of(LEVELS[order], ramp_lab(LEVELS[order])))
    np.testing.assert_allclose(found.patches.level, LEVELS[::-1])
    assert found.patches.lab[0, 0] == found.paper[0] == 95
    assert found.patches.lab[-1, 0] == found.black[0] == 16


def test_patches_beside_the_axis_take_no_part():
    device = np.repeat(LEVELS[:, None], 3, axis=1)
    beside = np.tile([[0.5, 0.52, 0.5]], (4, 1))
    reading = Reading(
        "r",
        "r.txt",
        tuple(f"{i}" for i in range(15)),
        np.concatenate([device, beside]),
        np.concatenate([ramp_lab(LEVELS), np.tile([[50.0, -1.0, 0.5]], (4, 1))]),
    )
    found = analyse(reading)
    assert found.reading.patches == 15
    assert len(found.patches) == 11
    assert found.neutrality.a_range == (0, 0)
    # They were printed four times alike, which says how well readings repeat.
    assert found.reading.repeatability.known


def test_repeats_are_averaged_as_reflectance():
    level = np.append(LEVELS, 0.5)
    spectra = grey_spectra(level)
    spectra[5] *= 1.02
    spectra[11] *= 0.98
    found = analyse(reading_of(level, spectra=spectra))
    assert len(found.patches) == 11
    row = np.argmin(np.abs(found.patches.level - 0.5))
    assert found.patches.counts[row] == 2
    clean = analyse(reading_of(LEVELS, spectra=grey_spectra(LEVELS)))
    np.testing.assert_allclose(found.patches.lab[row], clean.patches.lab[row], atol=1e-9)


def test_noise_does_not_make_another_patch_the_paper():
    lab = ramp_lab(LEVELS)
    lab[-2, 0] = 95.1
    found = analyse(reading_of(LEVELS, lab))
    assert found.patches.paper_index == 0
    assert found.paper[0] == 95.0


@pytest.mark.parametrize(("darker", "is_paper"), [(1.9, True), (2.1, False)])
def test_noise_is_two_standard_deviations(darker, is_paper):
    """The patch without ink stays the paper while it is no darker than repeats may differ by."""
    lab = ramp_lab(np.concatenate([LEVELS, [0.5, 0.5]]))
    lab[[5, 11, 12], 0] += [-0.4, 0.0, 0.4]
    sd = 0.4
    lab[10, 0] = lab[9, 0] - darker * sd
    found = analyse(reading_of(np.concatenate([LEVELS, [0.5, 0.5]]), lab))
    assert found.reading.repeatability.sd_L == pytest.approx(sd)
    assert found.patches.level[found.patches.paper_index] == (1.0 if is_paper else LEVELS[9])


def test_a_paper_darker_than_a_tone_is_remarked():
    lab = ramp_lab(LEVELS)
    lab[-1, 0] = 80.0
    found = analyse(reading_of(LEVELS, lab))
    assert found.paper[0] == lab[-2, 0]
    assert any("without ink measures darker" in remark for remark in found.remarks)


def test_a_ramp_without_paper_or_black_says_what_stands_for_them():
    found = analyse(reading_of(LEVELS[2:-1], ramp_lab(LEVELS)[2:-1]))
    assert any("no patch without ink" in r and "0.90" in r for r in found.remarks)
    assert any("no patch at level 0" in r and "0.20" in r for r in found.remarks)


def test_more_ink_that_prints_lighter_is_remarked():
    lab = ramp_lab(LEVELS)
    lab[0, 0] = 30.0
    found = analyse(reading_of(LEVELS, lab))
    assert found.black[0] == lab[1, 0]
    assert any("more ink prints lighter" in remark for remark in found.remarks)
    assert found.tone.reversals == pytest.approx((0.1,))


@pytest.mark.parametrize("count", [1, 2])
def test_too_few_levels_are_no_ramp(count):
    with pytest.raises(BadInput, match="at least 3") as caught:
        analyse(reading_of(LEVELS[:count], ramp_lab(LEVELS)[:count]))
    assert caught.value.source == "cotton-rag.txt"


def test_a_flat_sheet_is_no_ramp():
    lab = np.tile([[95.0, 0.0, 0.0]], (11, 1))
    with pytest.raises(BadInput, match="same L"):
        analyse(reading_of(LEVELS, lab))


def test_no_equal_channels_is_no_ramp():
    device = np.column_stack([LEVELS, LEVELS * 0.9, LEVELS * 0.8])[1:]
    reading = Reading("r", "r.txt", tuple("abcdefghij"), device, ramp_lab(LEVELS)[1:])
    with pytest.raises(BadInput, match="found 0 different levels"):
        analyse(reading)


def test_the_other_observer_is_computed_from_spectra():
    spectra = grey_spectra(LEVELS) * (1 + 0.05 * np.sin(np.arange(36) / 5))
    from greyscale.colorimetry.cielab import spectra_to_lab

    reading = reading_of(LEVELS, spectra=spectra)
    found = analyse(reading, observer="10")
    expected = spectra_to_lab(spectra, reading.wavelengths, "D50", "10")
    np.testing.assert_allclose(found.patches.lab, expected[::-1], atol=1e-9)
    assert found.reading.observer == "10"
    np.testing.assert_allclose(found.lights[0].lab, found.patches.lab, atol=1e-9)


def test_without_spectra_another_observer_cannot_be_had():
    reading = reading_of(LEVELS, ramp_lab(LEVELS))
    assert analyse(reading, observer="2").reading.observer == "2"
    with pytest.raises(BadInput, match="no spectra"):
        analyse(reading, observer="10")
    with pytest.raises(BadInput, match="take one of 2, 10"):
        analyse(reading, observer="4")
