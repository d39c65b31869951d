"""An analysis in words: the verdict first, then the paragraph of it, lights, tolerance."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

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
from greyscale.checks.spoilt import spoilt_words
from greyscale.colorimetry.cielab import chroma, hue_angle
from greyscale.colorimetry.lights import REFERENCE_LIGHT
from greyscale.reporting.cast_words import (
    by_size,
    hues_of,
    joined,
    main_casts,
    neutrality_words,
    on_aim,
    on_paper_words,
    picture_words,
    place_of,
    zone,
)
from greyscale.reporting.numbers import MISSING, beside, fixed, percent

# A tolerance in words, with where it comes from.


def tolerance_in_words(grade: str, mean_delta_Ch: float, max_delta_Ch: float) -> str:
    """Say what a grade allows, and its source where it is known.

    Parameters
    ----------
    grade
        Its name.
    mean_delta_Ch, max_delta_Ch
        Its limits.

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

    Parameters
    ----------
    corrected
        Whether it is said of a correction, which acts upon it.
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
