"""An analysis in words: the verdict first, then its paragraph, lights, tone, casts, pictures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.neutral import NEUTRAL_AIMS
from greyscale.aims.tolerances import TOLERANCES
from greyscale.analysis.analyse import Analysis
from greyscale.analysis.certainty import FAIL
from greyscale.analysis.neutrality import (
    ALONE_DELTA_CH,
    NOT_SHOWN,
    PLAIN_DELTA_CH,
    SECTOR,
    SHOWN,
    VISIBLE_DELTA_CH,
    Cast,
    Neutrality,
    hue_name,
    to_be_named,
)
from greyscale.analysis.response import LIGHTNESS, STEPS, Response
from greyscale.analysis.under_lights import SEEN, UnderLight
from greyscale.base.plain_text import MISSING, beside, fixed, joined, percent
from greyscale.checks.spoilt import spoilt_words
from greyscale.colorimetry.arrays import Array, Mask
from greyscale.colorimetry.cielab import chroma, hue_angle
from greyscale.colorimetry.lights import REFERENCE_LIGHT

if TYPE_CHECKING:
    from greyscale.analysis.picture import PictureNeutrality
    from greyscale.applying.preview import Side
    from greyscale.correction.sureness import PictureSureness


# A tolerance in words, with where it comes from.


def tolerance_in_words(grade: str, mean_delta_Ch: float, max_delta_Ch: float) -> str:
    """Say what a grade allows, and its source where it is known.

    Examples
    --------
    >>> tolerance_in_words("exhibition", 0.75, 1.5)
    'exhibition: mean ΔCh up to 0.75, largest up to 1.5 (common practice, no source)'
    """
    known = TOLERANCES.get(grade)
    origin = f" ({known.origin})" if known else ""
    return f"{grade}: mean ΔCh up to {mean_delta_Ch:g}, largest up to {max_delta_Ch:g}{origin}"


# What other lights do to a print's neutrality, in words.

WHOLE_SCALE = 0.8


def light_figures(light: UnderLight) -> tuple[str, str, str]:
    """Return mean ΔCh, largest ΔCh and casts in a light; a range where no figure can be given."""
    if light.told:
        return (fixed(light.mean_delta_Ch), fixed(light.max_delta_Ch), hues_of(light.casts))
    return f"{fixed(light.low)} to {fixed(light.high)}", MISSING, "cannot be told"


def light_words(analysis: Analysis) -> str | None:
    """Say what becomes of the ramp under the lights other than D50.

    Returns
    -------
    A clause as "hardly changes under F11, turns reddish in the shadows under A (peak ΔCh 2.1)";
    None where no other light was looked at.
    """
    if analysis.lights is None:
        return None
    by_phrase: dict[str, list[str]] = {}
    for light in analysis.lights:
        if light.name != REFERENCE_LIGHT:
            phrase, number = _change(analysis, light) if light.told else ("cannot be told", "")
            by_phrase.setdefault(phrase, []).append(light.name + number)
    return ", ".join(f"{p} under {joined(names)}" for p, names in by_phrase.items()) or None


def _change(analysis: Analysis, light: UnderLight) -> tuple[str, str]:
    """Say in a verb phrase what a light does, and in brackets how strongly."""
    before, after = main_casts(analysis.neutrality.casts), main_casts(light.casts)
    calm = on_aim(analysis.neutrality.aim)
    new = [cast for cast in after if not _kin_of(cast, to_be_named(analysis.neutrality.casts))]
    lost = [cast for cast in before if not _kin_of(cast, to_be_named(light.casts))]
    if new:
        return _turns(new)
    # Single tones that differ are no cast, and no neutral print either.
    odd, was_odd = (one.max_delta_Ch >= VISIBLE_DELTA_CH for one in (light, analysis.neutrality))
    if not after and not odd:
        return f"{'looks' if before or was_odd else 'stays'} {calm}", ""
    if not after and (before or not was_odd):
        return "has no cast that can be shown", ""
    if lost:
        hues = joined(list(dict.fromkeys(cast.hue for cast in lost)))
        return f"loses the {hues} cast", ""
    return _moved(analysis, light)


def _moved(analysis: Analysis, light: UnderLight) -> tuple[str, str]:
    """Say how far a light moves a print that keeps its casts; hardly where nobody sees it.

    That is, where no tone moves by as much as is seen to have a hue, nor the mean ΔCh by as much
    as is seen side by side; the peak moves no more than its tones do.
    """
    was, tones = analysis.neutrality, analysis.patches.is_tone
    moves = (light.drift.delta_ab - analysis.patches.delta_ab)[tones]
    farthest = int(np.argmax(chroma(moves)))
    seen = float(chroma(moves)[farthest]) >= VISIBLE_DELTA_CH
    mean = light.mean_delta_Ch - was.mean_delta_Ch
    peak = light.max_delta_Ch - was.max_delta_Ch
    phrases = []
    if abs(mean) >= SEEN or abs(peak) >= VISIBLE_DELTA_CH:
        more = mean > 0 if abs(mean) >= SEEN else peak > 0
        phrases.append(f"gets {'stronger' if more else 'weaker'}")
    if seen:
        hue = hue_name(float(hue_angle(moves[farthest])))
        level = float(analysis.patches.level[tones][farthest])
        phrases.append(f"{'' if phrases else 'turns '}more {hue} in the {zone(level)}")
    return joined(phrases) or "hardly changes", f" (peak ΔCh {light.max_delta_Ch:.1f})" * bool(
        phrases
    )


def _turns(new: Sequence[Cast]) -> tuple[str, str]:
    strongest = sorted(new, key=lambda cast: -cast.peak_delta_Ch)[:2]
    hues: dict[str, list[str]] = {}
    for cast in strongest:
        # Nothing is said of the place of one that takes up nearly the whole scale.
        whole = cast.to_level - cast.from_level > WHOLE_SCALE
        hues.setdefault("" if whole else place_of(cast), []).append(cast.hue)
    parts = [
        f"{joined(list(dict.fromkeys(names)))} {where}".strip() for where, names in hues.items()
    ]
    return f"turns {joined(parts)}", f" (peak ΔCh {strongest[0].peak_delta_Ch:.1f})"


def _kin_of(cast: Cast, others: Sequence[Cast]) -> bool:
    """Say whether one of the others overlaps this cast and is of its hue, 45° to either side."""
    return any(
        cast.from_level <= other.to_level
        and other.from_level <= cast.to_level
        and abs((cast.hue_angle - other.hue_angle + 180.0) % 360.0 - 180.0) <= SECTOR
        for other in others
    )


_WORTH_A_CLAUSE = 2.0
"""L*: a departure from the tone aim below this is not worth a clause of its own."""


def summary(analysis: Analysis) -> str:
    """Return it as one paragraph: casts and where, other lights, the verdict, the tone scale."""
    casts, *others = sentences(analysis)
    return " ".join([casts, verdict_words(analysis), *others])


def verdict(analyses: Sequence[Analysis]) -> tuple[str, ...]:
    """Return what matters in short sentences: neutral or not, would anyone notice, the grade."""
    aside = [sentence for one in analyses for sentence in spoilt_words(one.spoilt)]
    if len(analyses) > 1:
        return (_verdicts(analyses), *aside)
    (only,) = analyses
    return (f"{_is_neutral(only)}.", verdict_words(only), *aside)


def _is_neutral(analysis: Analysis) -> str:
    calm = on_aim(analysis.neutrality.aim)
    casts = by_size(main_casts(analysis.neutrality.casts))
    if not casts:
        what = without_casts(analysis)
        return f"{what[:1].upper()}{what[1:]}"
    sure = [cast for cast in casts if cast.verdict == SHOWN]
    where = joined([f"{cast.hue} {place_of(cast)}" for cast in sure or casts])
    if not sure and analysis.neutrality.verdict == FAIL:
        return f"Not {calm}: perhaps {where}"
    if not sure:
        return f"Perhaps not {calm}: {where}; this reading cannot tell"
    casts = sure
    return f"Not {calm}: {where}; {_who_would_notice(casts[0].peak_delta_Ch)}"


def without_casts(analysis: Analysis) -> str:
    """Say of a ramp without a cast to be named whether it is neutral, as a clause."""
    calm, neutrality = on_aim(analysis.neutrality.aim), analysis.neutrality
    visible = neutrality.max_delta_Ch >= VISIBLE_DELTA_CH
    if neutrality.no_cast_verdict == SHOWN:
        if visible:
            return f"{calm} as far as this reading can tell"
        return f"{calm} from paper to black: nobody would notice a tint"
    if visible and (neutrality.verdict == FAIL or neutrality.no_cast_verdict == NOT_SHOWN):
        return f"not {calm}, though no run of tones shares one hue"
    largest = f"ΔCh {neutrality.max_delta_Ch:.1f} at level {neutrality.max_at_level:.2f}"
    why = "may be noise" if visible else f"is too near the {VISIBLE_DELTA_CH:g} that can be seen"
    return (
        f"whether it is {calm} cannot be told from this reading: its largest departure, {largest}, "
        f"{why}"
    )


def _who_would_notice(delta_Ch: float) -> str:
    if delta_Ch >= PLAIN_DELTA_CH:
        return "anyone would notice"
    if delta_Ch >= ALONE_DELTA_CH:
        return "a careful viewer would notice"
    return "it would be seen beside a neutral print"


def _verdicts(analyses: Sequence[Analysis]) -> str:
    """Say which of several readings keep the tolerance; unlike conditions are not ranked."""
    passing = [one.reading.name for one in analyses if one.passes]
    grade = analyses[0].neutrality.tolerance
    if len(passing) == len(analyses):
        return f"All {len(analyses)} readings are within the {grade} tolerance."
    are = "is" if len(passing) == 1 else "are"
    others = [one.reading.name for one in analyses if one.verdict == "fail"]
    unsure = [one.reading.name for one in analyses if one.verdict not in ("pass", "fail")]
    if unsure:
        return (
            f"{len(passing)} of {len(analyses)} readings are within the {grade} tolerance; for "
            f"{joined(unsure)} it cannot be told."
        )
    if not passing:
        return f"None of the {len(analyses)} readings is within the {grade} tolerance."
    fail = "is" if len(others) == 1 else "are"
    return f"{joined(passing)} {are} within the {grade} tolerance; {joined(others)} {fail} not."


def sentences(analysis: Analysis) -> tuple[str, ...]:
    """Return the paragraph without the verdict, sentence by sentence; casts come first."""
    neutral = neutrality_words(analysis)
    lights = light_words(analysis)
    parts = [f"{neutral}; {lights}." if lights else f"{neutral}."]
    if analysis.lights is None:
        parts.append("Without spectra nothing can be said about other lights.")
    parts.append(tone_words(analysis))
    parts += response_sentences(analysis.response)
    if analysis.picture is not None:
        parts.append(picture_words(analysis.picture))
        parts += on_paper_words(analysis.picture)
    return tuple(parts)


def verdict_words(analysis: Analysis) -> str:
    """Say whether a print keeps its grade, and by which figure of tint or tone it does not."""
    neutrality, tone = analysis.neutrality, analysis.tone
    grade = neutrality.tolerance
    figures = (
        f"mean ΔCh {neutrality.mean_delta_Ch:.2f}, max {neutrality.max_delta_Ch:.2f}; "
        f"mean ΔL* {tone.mean_delta_L:.1f}, max {tone.max_delta_L:.1f}"
    )
    tint, scale = beyond_limits(neutrality), tone.faults
    if analysis.passes:
        noise = ", which the reading's noise explains" if tint or scale else ""
        return f"Within the {grade} tolerance: {figures}{noise}."
    fails = [
        (name, over)
        for name, over, verdict in (
            ("tint", tint, neutrality.verdict), ("tone", scale, tone.verdict)
        )
        if verdict == "fail" and over
    ]  # fmt: skip
    if not fails:
        return (
            f"Whether it is within the {grade} tolerance cannot be told: {figures}; with this "
            f"reading's noise it passes with a probability of {percent(analysis.probability)}."
        )
    if len(fails) == 2:
        return f"Outside the {grade} tolerance in tint and in tone: {joined([*tint, *scale])}."
    ((name, over),) = fails
    other = neutrality if name == "tone" else tone
    but = {"pass": "is within it", "fail": "is outside it"}.get(other.verdict, "cannot be told")
    aside = f"its {'tint' if name == 'tone' else 'tone'} {but}"
    return f"Outside the {grade} tolerance in {name}: {joined(over)}; {aside}."


def beyond_limits(neutrality: Neutrality) -> tuple[str, ...]:
    """Return by which figures a tint is outside its grade, as measured."""
    mean, largest = neutrality.mean_delta_Ch, neutrality.max_delta_Ch
    over = []
    if mean > neutrality.tolerance_mean_delta_Ch:
        limit = neutrality.tolerance_mean_delta_Ch
        over.append(f"mean ΔCh {beside(mean, limit)} ({limit:g} allowed)")
    if largest > neutrality.tolerance_max_delta_Ch:
        limit = neutrality.tolerance_max_delta_Ch
        over.append(f"max ΔCh {beside(largest, limit)} ({limit:g} allowed)")
    return tuple(over)


def tone_words(analysis: Analysis) -> str:
    """Say how the tone scale keeps to its aim, and what is wrong with its ends or its order."""
    tone = analysis.tone
    text = f"L* departs from the {tone.aim} aim by {tone.rms_delta_L:.1f} (RMS)"
    if tone.max_delta_L >= _WORTH_A_CLAUSE:
        row = int(np.argmin(np.abs(analysis.patches.level - tone.max_at_level)))
        side = "light" if analysis.patches.delta_L[row] > 0 else "dark"
        text += f", at most {tone.max_delta_L:.1f} too {side} at level {tone.max_at_level:.2f}"
    if tone.distinct_shadow_level is not None:
        text += f"; shadows are distinct from black from level {tone.distinct_shadow_level:.2f} on"
    if tone.reversals:
        levels = joined([f"{level:.2f}" for level in tone.reversals[:3]])
        more = " and elsewhere" if len(tone.reversals) > 3 else ""
        text += f"; the scale reverses at level {levels}{more}"
    return text + "."


def response_sentences(response: Response, *, corrected: bool = False) -> tuple[str, ...]:
    """Say what is out of the ordinary in how a driver answers; nothing where nothing is.

    Of one that is `corrected`, with what the correction does about it.
    """
    sentences = []
    if response.kind == LIGHTNESS:
        sentences.append(
            "This mode answers to lightness only: near-neutral patches change L*, and not a*, b*; "
            "set its tint in the driver."
        )
    if response.tone_step:
        sentences.append(
            f"This mode has only a few tones, about {fixed(response.tone_step, 1)} L* apart, and "
            "no curve makes more of them; try another mode of the driver."
        )
    elif response.kind == STEPS:
        sentences.append(
            "Near-neutral values snap and jump in this mode, so that its tint cannot be corrected; "
            "try another mode of the driver."
        )
    if response.darker_by > 0:
        then = "; the curve begins there" if corrected else ""
        sentences.append(
            f"Ink stops helping at level {fixed(response.darkest_level)}: level 0 prints "
            f"{fixed(response.darker_by, 1)} L* lighter{then}."
        )
    if response.blocked_below is not None:
        then = "; separation starts there" if corrected else ""
        below = "from there to" if response.darker_by > 0 else "below"
        sentences.append(
            f"All tones {below} level {fixed(response.blocked_below)} print as one black{then}."
        )
    return tuple(sentences)


# Neutral stretches and casts of a ramp, and what they mean for a picture.

NAMED_CASTS = 3
"""More casts than these are counted, not described."""

NARROW = 0.15
"""A cast that spans less of the scale, and is half as strong as the strongest, is a side issue."""

LEAST_STRETCH = 0.15
"""The neutral stretch next to paper is named when it takes up this much of the scale."""


def zone(level: float) -> str:
    """Name the part of the tone scale that a level belongs to: thirds of the scale.

    Examples
    --------
    >>> zone(0.9), zone(0.5), zone(0.1)
    ('highlights', 'mid-tones', 'shadows')
    """
    if level >= 2 / 3:
        return "highlights"
    return "mid-tones" if level >= 1 / 3 else "shadows"


def within(value: float) -> str:
    """Return a bound with one decimal, rounded up so that it holds, and not below 0.1.

    Examples
    --------
    >>> within(0.61)
    '0.7'
    """
    return f"{max(1, math.ceil(value * 10 - 1e-9)) / 10:.1f}"


def on_aim(aim: str) -> str:
    """Name a tone that shows no cast: neutral, or as toned as it is meant to be.

    Examples
    --------
    >>> on_aim("fading"), on_aim("warm")
    ('neutral', 'true to the aim')
    """
    return "neutral" if aim in NEUTRAL_AIMS else "true to the aim"


def main_casts(casts: Sequence[Cast]) -> tuple[Cast, ...]:
    """Leave out casts that are not shown, or both narrow and weak beside the strongest.

    Examples
    --------
    >>> strong = Cast(0.2, 0.6, "greenish", 180.0, 3.0, 0.4)
    >>> main_casts([strong, Cast(0.62, 0.65, "bluish", 270.0, 1.2, 0.62)]) == (strong,)
    True
    """
    named = to_be_named(casts)
    strongest = max((cast.peak_delta_Ch for cast in named), default=0.0)
    return tuple(
        cast
        for cast in named
        if cast.peak_delta_Ch >= strongest / 2 or cast.to_level - cast.from_level >= NARROW
    )


def by_size(casts: Sequence[Cast]) -> list[Cast]:
    """Return casts by their peak, the strongest first."""
    return sorted(casts, key=lambda cast: -cast.peak_delta_Ch)


def hues_of(casts: Sequence[Cast]) -> str:
    """Name the hues of the casts, the strongest first; "none" where there is none.

    Examples
    --------
    >>> hues_of([Cast(0.1, 0.2, "bluish", 270.0, 1.2, 0.1), Cast(0.5, 0.6, "orange", 45.0, 2, 0.5)])
    'orange and bluish'
    """
    return joined(list(dict.fromkeys(cast.hue for cast in by_size(to_be_named(casts))))) or "none"


def place_of(cast: Cast) -> str:
    """Say in which part of the scale a cast lies.

    Examples
    --------
    >>> place_of(Cast(0.1, 0.25, "greenish", 180.0, 2.3, 0.15))
    'in the shadows'
    """
    low, high = zone(cast.from_level), zone(cast.to_level)
    return f"in the {low}" if low == high else f"from the {high} to the {low}"


def describe_cast(cast: Cast, whole: bool = False) -> str:
    """Say a cast's hue, where it is, and its peak; `whole` where it takes up the whole ramp.

    Examples
    --------
    >>> describe_cast(Cast(0.1, 0.25, "greenish", 180.0, 2.3, 0.15))
    'greenish in the shadows between levels 0.10 and 0.25, peak ΔCh 2.3 at 0.15'
    """
    peak = f"peak ΔCh {cast.peak_delta_Ch:.1f} at {cast.peak_level:.2f}"
    if cast.from_level == cast.to_level:
        words = (
            f"{cast.hue} {place_of(cast)} at level {cast.peak_level:.2f}, "
            f"ΔCh {cast.peak_delta_Ch:.1f}"
        )
    elif whole:
        words = f"{cast.hue} throughout, {peak}"
    else:
        levels = f"between levels {cast.from_level:.2f} and {cast.to_level:.2f}"
        words = f"{cast.hue} {place_of(cast)} {levels}, {peak}"
    if cast.verdict == SHOWN:
        return words
    return f"perhaps {words} (probability {cast.probability:.2f})"


def neutrality_words(analysis: Analysis) -> str:
    """Say where the ramp is neutral and where it has which cast, from paper to black.

    Returns
    -------
    Clauses joined by semicolons, without the full stop; the first letter is a capital.
    """
    calm = on_aim(analysis.neutrality.aim)
    tones = analysis.patches.is_tone
    level, delta_Ch = analysis.patches.level[tones], analysis.patches.delta_Ch[tones]
    casts = sorted(to_be_named(analysis.neutrality.casts), key=lambda cast: -cast.to_level)
    if casts:
        clauses = _casts_and_rest(calm, level, delta_Ch, casts)
    else:
        clauses = [_no_cast_words(analysis, calm, level, delta_Ch)]
    text = "; ".join([*clauses, *_of_black(analysis)])
    return text[:1].upper() + text[1:]


def _casts_and_rest(calm: str, level: Array, delta_Ch: Array, casts: Sequence[Cast]) -> list[str]:
    """Say how far down from paper a ramp is neutral, its strongest casts, and what the rest is."""
    free = ~_in_casts(level, casts)
    above, rest = free & (level > casts[0].to_level), free
    neutral = above & (delta_Ch < VISIBLE_DELTA_CH)
    clauses = []
    if neutral.any() and (end := float(level[above].min())) <= 1 - LEAST_STRETCH:
        reaches = zone(end) if zone(end) != zone(casts[0].to_level) else f"level {end:.2f}"
        clauses.append(f"{calm} within {within(delta_Ch[neutral].max())} from paper to {reaches}")
        rest = free & ~above
    whole = len(casts) == 1 and not free.any()
    clauses += [describe_cast(cast, whole) for cast in by_size(casts)[:NAMED_CASTS]]
    if (weaker := len(casts) - NAMED_CASTS) > 0:
        clauses.append("and one weaker cast" if weaker == 1 else f"and {weaker} weaker casts")
    if rest.any():
        # Single tones that are no cast may be among them.
        most = delta_Ch[rest].max()
        clauses.append(
            f"elsewhere no cast that can be shown, up to ΔCh {most:.1f}"
            if most >= VISIBLE_DELTA_CH
            else f"{calm} within {within(most)} elsewhere"
        )
    return clauses


def _no_cast_words(analysis: Analysis, calm: str, level: Array, delta_Ch: Array) -> str:
    neutrality, small = analysis.neutrality, delta_Ch < VISIBLE_DELTA_CH
    if neutrality.verdict == FAIL and not small.all():
        worst = int(np.argmax(delta_Ch))
        return (
            f"not {calm}, at most by ΔCh {delta_Ch[worst]:.1f} at {level[worst]:.2f}, "
            "though no run of tones shares one hue"
        )
    sure = neutrality.no_cast_verdict == SHOWN
    words = "no cast that can be shown"
    if small.any():
        most = within(delta_Ch[small].max())
        words = f"{calm} within {most}" if sure else f"within ΔCh {most} of the aim"
        words += " from paper to black"
    how_sure = f"(no cast: {neutrality.no_cast_verdict}, probability {neutrality.no_cast:.2f})"
    return " ".join([words, *_odd_tones(analysis, level, delta_Ch), *([] if sure else [how_sure])])


def _in_casts(level: Array, casts: Sequence[Cast]) -> Mask:
    inside = np.zeros(level.shape, dtype=np.bool_)
    for cast in casts:
        inside |= (level >= cast.from_level) & (level <= cast.to_level)
    return inside


def _odd_tones(analysis: Analysis, level: Array, delta_Ch: Array) -> list[str]:
    """Say of tones that differ visibly, and are no cast, why they are none."""
    odd = np.flatnonzero(delta_Ch >= VISIBLE_DELTA_CH)
    if not odd.size:
        return []
    worst = odd[np.argmax(delta_Ch[odd])]
    sd = analysis.reading.repeatability.sd_Ch
    where = f"ΔCh {delta_Ch[worst]:.1f} at {level[worst]:.2f}"
    refuted = [one for one in analysis.neutrality.casts if one.verdict == NOT_SHOWN]
    if _in_casts(level[odd], refuted).any():
        return [f"but for differences that the reading's noise explains ({where})"]
    if delta_Ch[worst] <= 2 * sd:
        return [f"but for differences within the repeatability (sd {sd:.1f}; {where})"]
    if odd.size == 1:
        return [f"but for a single tone ({where}), which no repeat confirms"]
    return [f"but for {odd.size} single tones (most {where}), which no repeats confirm"]


def _of_black(analysis: Analysis) -> list[str]:
    delta_Ch = analysis.neutrality.black_delta_Ch
    if delta_Ch < VISIBLE_DELTA_CH or delta_Ch <= 2 * analysis.reading.repeatability.sd_Ch:
        return []
    patches = analysis.patches
    hue = hue_name(float(hue_angle(patches.delta_ab[patches.black_index])))
    return [f"black itself is {hue}, ΔCh {delta_Ch:.1f}"]


# Pictures in words: what casts mean for one, and a preview.

NOTICED_SCALING = 1.0
"""L* by which the scalings must differ in the mid-tones to be spoken of."""

LEAST_SHARE = 0.005
"""Casts that hold less of the picture are not named: they would show as 0 %."""


def picture_words(picture: PictureNeutrality) -> str:
    """Say how far the picture departs from its aims, and which share of it lies in each cast."""
    name = Path(picture.source).name
    means = (
        f"Over the tones of {name}, mean ΔCh is {picture.mean_delta_Ch:.2f} and L* is "
        f"{_lightness(picture.mean_delta_L)} on average"
    )
    seen = [cast for cast in picture.casts if cast.share >= LEAST_SHARE]
    if not seen:
        return f"{means}; none of it lies in a cast."
    parts = [
        f"{percent(cast.share)} of it in the {cast.hue} cast from {cast.from_level:.2f} to "
        f"{cast.to_level:.2f}"
        for cast in seen
    ]
    return f"{means}; {joined(parts)}."


def on_paper_words(picture: PictureNeutrality) -> tuple[str, ...]:
    """Say which share of a picture blocks or bleaches, and what scaling does to its mid-tones."""
    found = picture.on_paper
    if found is None:
        return ()
    sentences = []
    if found.blocked_below is not None and found.blocked_share >= LEAST_SHARE:
        sentences.append(
            f"{percent(found.blocked_share)} of the picture lies below level "
            f"{found.blocked_below:.2f}, which prints as one black."
        )
    if found.bleached_above is not None and found.bleached_share >= LEAST_SHARE:
        sentences.append(
            f"{percent(found.bleached_share)} of it lies above level {found.bleached_above:.2f}, "
            "which prints as bare paper."
        )
    linear, black_point = found.midtone_L["linear"], found.midtone_L["black-point"]
    if linear - black_point >= NOTICED_SCALING:
        sentences.append(
            f"Its mid-tones are aimed at L* {linear:.0f} on average by linear scaling, and at "
            f"{black_point:.0f} by black-point scaling."
        )
    return tuple(sentences)


def sureness_words(sureness: PictureSureness, source: str) -> str:
    """Say how surely a corrected print is known over a picture's tones, and what would help."""
    name = Path(source).name
    words = (
        f"Over the tones of {name}, a mean ΔCh of {sureness.delta_Ch:.2f} is to be expected, "
        "uncertainty included; a* and b* of the corrected print are known to "
        f"±{sureness.picture:.2f} (95 %), over the whole scale to ±{sureness.whole:.2f}; least "
        f"certainly at level {sureness.worst_level:.2f}, to ±{sureness.worst:.2f}."
    )
    if sureness.worth_a_chart:
        words += (
            " A chart with patches at this picture's tones (greyscale chart --for-image), given "
            "as a further reading, would make it surer there."
        )
    return words


def _lightness(delta_L: float) -> str:
    """Say how far L* is off, or that it is not.

    Examples
    --------
    >>> _lightness(-0.31), _lightness(0.02)
    ('0.3 too dark', 'on its aim')
    """
    if abs(delta_L) < 0.05:
        return "on its aim"
    return f"{abs(delta_L):.1f} too {'light' if delta_L > 0 else 'dark'}"


def side_words(side: Side, expected: float | None = None) -> str:
    """Say how far one side departs from neutral over the picture, as measured, not as drawn.

    By the mean ΔCh `expected`, where that was counted from the whole picture.
    """
    found = side.neutrality
    mean = found.mean_delta_Ch if expected is None else expected
    return (
        f"over this picture, mean ΔCh {mean:.2f}, {percent(found.share_in_casts)} of it in a cast"
    )
