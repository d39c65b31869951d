"""An analysis as one paragraph that a print-maker reads first."""

from __future__ import annotations

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.neutrality import Neutrality
from greyscale.reporting.cast_words import joined, neutrality_words
from greyscale.reporting.light_words import light_words
from greyscale.reporting.numbers import percent
from greyscale.reporting.picture_words import picture_words

NOTICED_DELTA_L = 2.0
"""A departure from the tone aim below this is not worth a clause of its own."""


def summary(analysis: Analysis) -> str:
    """Give the paragraph: casts and where, other lights, the verdict, the tone scale."""
    return " ".join(sentences(analysis))


def sentences(analysis: Analysis) -> tuple[str, ...]:
    """Give the paragraph sentence by sentence; the first is the one that matters."""
    neutral = neutrality_words(analysis)
    lights = light_words(analysis)
    parts = [f"{neutral}; {lights}." if lights else f"{neutral}."]
    if analysis.lights is None:
        parts.append("Without spectra nothing can be said about other lights.")
    parts += [verdict_words(analysis.neutrality), tone_words(analysis)]
    if analysis.picture is not None:
        parts.append(picture_words(analysis.picture))
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
        text += f"; shadows part from black from level {tone.distinct_shadow_level:.2f} on"
    if tone.reversals:
        levels = joined([f"{level:.2f}" for level in tone.reversals[:3]])
        more = " and elsewhere" if len(tone.reversals) > 3 else ""
        text += f"; the scale reverses at level {levels}{more}"
    return text + "."
