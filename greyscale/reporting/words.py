"""An analysis in words: the verdict that a print-maker reads first, and the paragraph of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.casts import ALONE_DELTA_CH, PLAIN_DELTA_CH, VISIBLE_DELTA_CH
from greyscale.analysis.neutrality import Neutrality
from greyscale.checks import spoilt_words
from greyscale.reporting.cast_words import (
    by_size,
    joined,
    main_casts,
    neutrality_words,
    on_aim,
    place_of,
)
from greyscale.reporting.light_words import light_words
from greyscale.reporting.numbers import percent
from greyscale.reporting.picture_words import on_paper_words, picture_words
from greyscale.reporting.response_words import response_sentences

NOTICED_DELTA_L = 2.0
"""A departure from the tone aim below this is not worth a clause of its own."""


def summary(analysis: Analysis) -> str:
    """Return it as one paragraph: casts and where, other lights, the verdict, the tone scale."""
    casts, *others = sentences(analysis)
    return " ".join([casts, verdict_words(analysis.neutrality), *others])


def verdict(analyses: Sequence[Analysis]) -> tuple[str, ...]:
    """Return what matters in short sentences: neutral or not, would anyone notice, the grade."""
    aside = [sentence for one in analyses for sentence in spoilt_words(one.spoilt)]
    if len(analyses) > 1:
        return (_verdicts(analyses), *aside)
    (only,) = analyses
    return (f"{_is_neutral(only)}.", verdict_words(only.neutrality), *aside)


def _is_neutral(analysis: Analysis) -> str:
    calm = on_aim(analysis.neutrality.aim)
    casts = by_size(main_casts(analysis.neutrality.casts))
    if not casts:
        if analysis.neutrality.max_delta_Ch >= VISIBLE_DELTA_CH:
            return f"{calm.capitalize()} as far as this reading can tell"
        return f"{calm.capitalize()} from paper to black: nobody would notice a tint"
    where = joined([f"{cast.hue} {place_of(cast)}" for cast in casts])
    return f"Not {calm}: {where}; {_who_would_notice(casts[0].peak_delta_Ch)}"


def _who_would_notice(delta_Ch: float) -> str:
    if delta_Ch >= PLAIN_DELTA_CH:
        return "anyone would notice"
    if delta_Ch >= ALONE_DELTA_CH:
        return "a careful viewer would notice"
    return "it would be seen beside a neutral print"


def _verdicts(analyses: Sequence[Analysis]) -> str:
    """Say which of several readings keep the tolerance; unlike conditions are not ranked."""
    passing = [one.reading.name for one in analyses if one.neutrality.passes]
    grade = analyses[0].neutrality.tolerance
    if len(passing) == len(analyses):
        return f"All {len(analyses)} readings keep the {grade} tolerance."
    keep = "keeps" if len(passing) == 1 else "keep"
    others = [one.reading.name for one in analyses if one.neutrality.verdict == "fail"]
    unsure = [
        one.reading.name for one in analyses if one.neutrality.verdict not in ("pass", "fail")
    ]
    if unsure:
        return (
            f"{len(passing)} of {len(analyses)} readings keep the {grade} tolerance; for "
            f"{joined(unsure)} it cannot be told."
        )
    if not passing:
        return f"None of the {len(analyses)} readings keeps the {grade} tolerance."
    fail = "does" if len(others) == 1 else "do"
    return f"{joined(passing)} {keep} the {grade} tolerance; {joined(others)} {fail} not."


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


def verdict_words(neutrality: Neutrality) -> str:
    """Say whether a ramp passes its grade, and by which figure it fails."""
    mean, largest = neutrality.mean_delta_Ch, neutrality.max_delta_Ch
    figures = f"mean ΔCh {mean:.2f}, max {largest:.2f}"
    within = (
        mean <= neutrality.tolerance_mean_delta_Ch and largest <= neutrality.tolerance_max_delta_Ch
    )
    if neutrality.passes:
        noise = "" if within else ", which the reading's noise explains"
        return f"Within the {neutrality.tolerance} tolerance: {figures}{noise}."
    if neutrality.verdict != "fail" or within:
        return (
            f"Whether it is within the {neutrality.tolerance} tolerance cannot be told: {figures}; "
            f"with this reading's noise it passes with a probability of "
            f"{percent(neutrality.probability)}."
        )
    over = []
    if mean > neutrality.tolerance_mean_delta_Ch:
        over.append(f"mean ΔCh {mean:.2f} ({neutrality.tolerance_mean_delta_Ch:g} allowed)")
    if largest > neutrality.tolerance_max_delta_Ch:
        over.append(f"max ΔCh {largest:.2f} ({neutrality.tolerance_max_delta_Ch:g} allowed)")
    return f"Outside the {neutrality.tolerance} tolerance: {joined(over)}."


def tone_words(analysis: Analysis) -> str:
    """Say how the tone scale keeps to its aim, and what is wrong with its ends or its order."""
    tone = analysis.tone
    text = f"L* departs from the {tone.aim} aim by {tone.rms_delta_L:.1f} (RMS)"
    if tone.max_delta_L >= NOTICED_DELTA_L:
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
