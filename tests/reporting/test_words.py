"""The paragraph says what was put into the ramp, in every case."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from support.grey_readings import WAVELENGTHS, grey_spectra, ramp_lab, reading_of

from greyscale.analysis.analyse import analyse
from greyscale.analysis.neutrality import SHOWN, Cast, hue_name, shown
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.colorimetry.tristimulus import WavelengthGrid, tristimulus_weights
from greyscale.page.findings import of_analysis
from greyscale.reporting.analysis_words import describe_cast, place_of, sentences, summary, verdict

LEVELS = np.linspace(0, 1, 21)


def first_sentence(a, b=0.0, **options):
    return sentences(analyse(reading_of(LEVELS, ramp_lab(LEVELS, a, b)), **options))[0]


def between(low, high, value):
    return np.where((low - 1e-9 < LEVELS) & (high + 1e-9 > LEVELS), value, 0.0)


def test_neutral_throughout():
    assert first_sentence(0.5) == "Neutral within 0.5 from paper to black."


def test_neutral_above_a_cast_in_the_shadows():
    a = between(0.10, 0.25, -1.5)
    a[3] = -2.3
    a[8:] = 0.55
    assert first_sentence(a) == (
        "Neutral within 0.6 from paper to level 0.30; greenish in the shadows between levels 0.10 "
        "and 0.25, peak ΔCh 2.3 at 0.15; neutral within 0.1 elsewhere."
    )


def test_a_cast_right_to_the_darkest_tone_leaves_nothing_elsewhere():
    text = first_sentence(0.0, between(0.05, 0.20, -1.5) + between(0.25, 1, -0.4))
    assert text.startswith("Neutral within 0.4 from paper to level 0.25; bluish in the shadows")
    assert "elsewhere" not in text


def test_a_cast_in_the_mid_tones_below_neutral_highlights():
    text = first_sentence(between(0.35, 0.6, 1.5))
    assert text.startswith("Neutral within 0.1 from paper to level 0.65; reddish in the mid-tones")


def test_a_cast_throughout():
    assert first_sentence(2.0, 2.0).startswith("Orange throughout, peak ΔCh 2.8 at ")


def test_casts_come_by_size():
    """The strongest first, whatever is wide and wherever it lies; never one that is weaker."""
    for low, high in ((2.0, -2.5), (2.5, -2.0)):
        text = first_sentence(between(0.1, 0.3, low) + between(0.7, 0.9, high)).lower()
        peaks = [float(peak) for peak in re.findall(r"peak δch ([0-9.]+)", text)]
        assert peaks == [2.5, 2.0]


def test_many_casts_are_counted():
    stripes = 5.0 * ((np.arange(21) // 2) % 2)
    text = first_sentence(stripes)
    assert text.count("peak ΔCh") == 3
    assert "and 2 weaker casts" in text


def test_one_tone_is_mentioned_but_not_called_a_cast():
    a = np.zeros(21)
    a[8] = 1.8
    assert first_sentence(a) == (
        "Within ΔCh 0.1 of the aim from paper to black but for a single tone (ΔCh 1.8 at 0.40), "
        "which no repeat confirms (no cast: cannot be told, probability 0.07)."
    )


def test_differences_within_the_repeatability_are_called_so():
    rng = np.random.default_rng(4)
    level = np.tile(LEVELS, 3)
    lab = ramp_lab(level)
    lab[:, 1:] += rng.normal(0, 1.6, (level.size, 2))
    text = sentences(analyse(reading_of(level, lab), neutral="absolute"))[0]
    assert "within the repeatability (sd 1." in text
    assert "no cast: " in text
    assert "peak" not in text


def test_a_cast_that_is_not_shown_is_not_named():
    found = analyse(reading_of(LEVELS, ramp_lab(LEVELS, between(0.3, 0.5, 1.2))))
    (cast,) = found.neutrality.casts
    refuted = replace(cast, probability=0.01)
    without = replace(
        found,
        neutrality=replace(
            found.neutrality, casts=(refuted,), verdict="pass", no_cast=0.99, no_cast_verdict=SHOWN
        ),
    )
    said = " ".join([*sentences(without), *verdict([without]), of_analysis(without).first])
    assert "noise explains" in said
    assert "perhaps" not in said
    assert "reddish" not in said


@pytest.mark.parametrize(
    ("largest", "no_cast", "said"),
    [
        (0.9, 0.99, "Neutral from paper to black: nobody would notice a tint."),
        (0.9, 0.6, "Whether it is neutral cannot be told from this reading: its largest"),
        (1.2, 0.97, "Neutral as far as this reading can tell."),
        (1.2, 0.5, "Whether it is neutral cannot be told from this reading: its largest"),
        (1.2, 0.01, "Not neutral, though no run of tones shares one hue."),
    ],
)
def test_neutral_is_said_only_where_it_is_shown(largest, no_cast, said):
    found = analyse(reading_of(LEVELS, ramp_lab(LEVELS, between(0.4, 0.4, largest))))
    judged = replace(
        found.neutrality, verdict="pass", no_cast=no_cast, no_cast_verdict=shown(no_cast)
    )
    assert verdict([replace(found, neutrality=judged)])[0].startswith(said)


def test_blacks_own_tint_is_named():
    lab = ramp_lab(LEVELS)
    lab[0, 2] = -2.4
    text = sentences(analyse(reading_of(LEVELS, lab)))[0]
    assert text == "Neutral within 0.1 from paper to black; black itself is bluish, ΔCh 2.4."


def test_a_toned_print_is_true_to_its_aim():
    from greyscale.aims.neutral import AimByLightness

    aim = AimByLightness("warm", np.array([16.0, 95.0]), np.array([[2.0, 6.0], [2.0, 6.0]]))
    lab = ramp_lab(LEVELS, 2.0, 6.0)
    lab[:, 1:] = [2.0, 6.0]
    text = sentences(analyse(reading_of(LEVELS, lab), neutral=aim))[0]
    assert text == "True to the aim within 0.1 from paper to black."


def unseen_under(light):
    """A part of reflectances that a light's weights do not see: from their null space."""
    _, _, rows = np.linalg.svd(tristimulus_weights(WavelengthGrid.of(WAVELENGTHS), light).T)
    part = (rows[3:] @ np.sin(WAVELENGTHS / 30)) @ rows[3:]
    return part / np.abs(part).max()


def under_lights(part, strength, lights=("D50", "A")):
    mid = (4 * LEVELS * (1 - LEVELS))[:, None]
    spectra = grey_spectra(LEVELS) * (1 + strength * mid * part)
    return analyse(reading_of(LEVELS, spectra=spectra), lights=lights)


def test_a_light_that_turns_a_neutral_print():
    found = under_lights(unseen_under("D50"), 0.5)
    (cast, *_) = sorted(found.lights[1].casts, key=lambda cast: -cast.peak_delta_Ch)
    text = sentences(found)[0]
    assert "Neutral within 0.1 from paper to black; turns " in text
    assert f"turns {cast.hue}" in text
    assert f"under A (peak ΔCh {cast.peak_delta_Ch:.1f})" in text


def test_lights_that_change_nothing_are_named_together():
    found = under_lights(np.zeros(36), 0.0, ("D50", "A", "F11", "LED-B3"))
    assert "stays neutral under A, F11 and LED-B3." in sentences(found)[0]


@pytest.mark.parametrize("off", [{2: 3.0}, {1: 3.0, 3: -3.0}])
def test_too_few_tones_to_tell_a_cast_are_called_neutral_nowhere(off):
    """One tone of three, or two of opposite hue, differ as a careful viewer would notice."""
    levels = np.linspace(0, 1, 5)
    a = np.zeros(5)
    a[list(off)] = list(off.values())
    green = np.exp(-(((WAVELENGTHS - 540) / 60) ** 2))
    spectra = grey_spectra(levels) * (1 + a[:, None] / 40 * green)
    found = analyse(reading_of(levels, spectra=spectra), lights=("D50", "A", "F11"))
    assert not found.neutrality.casts
    first = verdict([found])[0]
    assert first == "Not neutral, though no run of tones shares one hue."
    text = sentences(found)[0]
    assert text.startswith(f"Not neutral, at most by ΔCh {found.neutrality.max_delta_Ch:.1f} at ")
    assert "hardly changes under A and F11." in text
    assert text.lower().count("neutral") == 1


def test_a_cast_that_stays():
    found = under_lights(np.exp(-(((WAVELENGTHS - 540) / 60) ** 2)), 0.10)
    assert "hardly changes under A" in sentences(found)[0]


@pytest.mark.parametrize(
    ("strength", "beside", "moves"), [(0.1, 0.0, False), (0.3, 0.0, True), (0.3, -0.15, True)]
)
def test_a_cast_that_moves_by_what_is_seen_is_not_called_unchanged(strength, beside, moves):
    """Neutral but for a green and what A alone sees: CIELAB says how far that moves."""
    part = strength * np.exp(-(((WAVELENGTHS - 540) / 60) ** 2)) + beside * unseen_under("D50")
    mid = (4 * LEVELS * (1 - LEVELS))[:, None]
    under_A, under_D50 = (
        spectra_to_lab(grey_spectra(LEVELS) * (1 + mid * part), WAVELENGTHS, light)[:, 1:]
        for light in ("A", "D50")
    )
    a, b = max(under_A - under_D50, key=np.linalg.norm)
    assert (np.hypot(a, b) >= 1) == moves
    said = sentences(under_lights(part, 1.0))[0]
    assert ("hardly changes under A" in said) != moves
    if moves:
        hue = hue_name(float(np.degrees(np.arctan2(b, a))))
        assert re.search(rf"(turns|gets (stronger|weaker) and) more {hue} in the ", said)


def test_a_cast_that_goes_away_under_a_light():
    """What A does not see, D50 does."""
    found = under_lights(unseen_under("A"), 0.5)
    assert found.neutrality.casts
    assert "looks neutral under A" in sentences(found)[0]


def test_without_spectra_other_lights_are_not_spoken_of():
    found = analyse(reading_of(LEVELS, ramp_lab(LEVELS)))
    assert sentences(found)[1] == "Without spectra nothing can be said about other lights."
    assert "under A" not in summary(found)


@pytest.mark.parametrize(
    ("a", "grade", "side", "figures"),
    [
        (0.3, "exhibition", "Within", ": mean ΔCh 0.30, max 0.30; mean ΔL* 0.0, max 0.0."),
        (1.2, "exhibition", "Outside", " in tint: mean ΔCh 1.20 (0.75 allowed); its tone is"),
        (1.2, "contract-proof", "Within", ": mean ΔCh 1.20, max 1.20; mean ΔL* 0.0, max 0.0."),
        (4.0, "contract-proof", "Outside", " in tint: mean ΔCh 4.00 (2 allowed) and max ΔCh 4.00"),
    ],
)
def test_the_verdict_with_its_figures(a, grade, side, figures):
    found = summary(analyse(reading_of(LEVELS, ramp_lab(LEVELS, a)), tolerance=grade))
    assert f"{side} the {grade} tolerance{figures}" in found


@pytest.mark.parametrize(
    ("exponent", "a", "says"),
    [
        (1.3, 0.0, "in tone: mean ΔL* "),
        (1.3, 1.2, "in tint and in tone: mean ΔCh 1.20 (0.75 allowed), mean ΔL* "),
    ],
)
def test_the_verdict_says_which_of_tint_and_tone_fails(exponent, a, says):
    """A print as neutral as can be, but dark: by the draft of the grade 2 and 4 L* are allowed."""
    lab = ramp_lab(LEVELS, a)
    lab[:, 0] = 16 + 79 * LEVELS**exponent
    found = analyse(reading_of(LEVELS, lab), lights=())
    assert (found.verdict, found.tone.verdict, found.passes) == ("fail", "fail", False)
    text = summary(found)
    assert f"Outside the exhibition tolerance {says}" in text
    assert ("its tint is within it" in text) == (a == 0.0)


def test_the_tone_scale():
    lab = ramp_lab(LEVELS)
    lab[6, 0] -= 6.0
    text = sentences(analyse(reading_of(LEVELS, lab)))[-1]
    assert text.startswith("L* departs from the lstar aim by ")
    assert "at most 6.0 too dark at level 0.30" in text
    assert "shadows are distinct from black from level 0.01 on" in text
    assert text.endswith("the scale reverses at level 0.30.")


def test_no_sentence_is_left_without_its_number_or_its_stop():
    """Random ramps, tinted, noisy, with and without spectra: every text reads as sentences."""
    rng = np.random.default_rng(11)
    for _ in range(200):
        drift = rng.normal(0, rng.choice([0.2, 1.0, 3.0]), (21, 2)).cumsum(axis=0) / 2
        lab = ramp_lab(LEVELS, drift[:, 0], drift[:, 1])
        text = summary(analyse(reading_of(LEVELS, lab)))
        assert text[0].isupper()
        assert text.endswith(".")
        for wrong in ("nan", "None", "  ", " ;", ";;", " .", "..", "; .", "inf"):
            assert wrong not in text, text


def test_places_and_single_tones():
    assert place_of(Cast(0.1, 0.9, "reddish", 0, 2, 0.5)) == "from the highlights to the shadows"
    assert describe_cast(Cast(0.4, 0.4, "reddish", 0, 2.04, 0.4)) == (
        "reddish in the mid-tones at level 0.40, ΔCh 2.0"
    )


@pytest.mark.parametrize(
    ("a", "said"),
    [
        (0.3, "Neutral from paper to black: nobody would notice a tint."),
        (-1.5, "it would be seen beside a neutral print."),
        (-2.5, "a careful viewer would notice."),
        (-4.0, "anyone would notice."),
    ],
)
def test_the_verdict_says_whether_anyone_would_notice(a, said):
    found = analyse(reading_of(LEVELS, ramp_lab(LEVELS, a, 0.0)), neutral="absolute")
    assert verdict([found])[0].endswith(said)
