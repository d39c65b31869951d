"""The pictures of a correction and of a verification, with what to read in them."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.cielab import chroma
from greyscale.correction.record import Correction
from greyscale.reporting.cast_words import joined
from greyscale.reporting.figures.before_after import (
    BeforeAfter,
    Course,
    before_after_colour,
    before_after_tone,
)
from greyscale.reporting.figures.before_after_strip import before_after_strip
from greyscale.reporting.figures.correction_curve import correction_curve
from greyscale.reporting.figures.ramp_strip import EXAGGERATION
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.page import Picture

_BAND = "The grey band around the prediction is where 95 % of prints should lie. "


def strip_picture(shown: BeforeAfter) -> Picture:
    """Picture the first and the last ramp as they print."""
    first, last = shown.courses[0].name, shown.courses[-1].name
    enlarged = f"the distance from the aim {EXAGGERATION} times as large"
    if shown.toned:
        enlarged = (
            f"the cast {EXAGGERATION} times as strong {first}, and the distance from the toning "
            f"{EXAGGERATION} times as large {last}"
        )
    return Picture(
        lambda look: before_after_strip(shown, look),
        "ramps",
        alt=f"Strips of tones from black to paper, {first} above {last}, as they print and with "
        f"{enlarged}.",
        caption=f"Simulated tones, {first} above {last}. The lower pair shows {enlarged}, so that "
        "it is plain on any screen.",
    )


def colour_picture(shown: BeforeAfter) -> Picture:
    """Picture a*, b* and ΔCh against their aims."""
    largest = joined([f"{fixed(_largest(course))} {course.name}" for course in shown.courses])
    return Picture(
        lambda look: before_after_colour(shown, look),
        "colour",
        alt=f"a* and b* minus their aims, and ΔCh, over level. Largest ΔCh: {largest}.",
        caption=f"{_BAND}In the lowest panel the band is what passes: ΔCh up to "
        f"{shown.tolerance:g}. Where a line is above 0, that tone is redder or yellower than its "
        "aim.",
    )


def tone_picture(shown: BeforeAfter) -> Picture:
    """Picture L* against its aim."""
    largest = joined(
        [
            f"{fixed(float(np.abs(course.delta[:, 0]).max()))} {course.name}"
            for course in shown.courses
        ]
    )
    return Picture(
        lambda look: before_after_tone(shown, look),
        "tone",
        alt=f"L* minus its aim over level. Largest departure: {largest}.",
        caption=f"{_BAND}Above 0 a tone prints lighter than its aim.",
    )


def curve_picture(correction: Correction) -> Picture:
    """Picture what is sent instead of each level."""
    curve = correction.curve
    mean = curve.rgb.mean(axis=1)
    change = mean - curve.levels
    most = int(np.argmax(np.abs(change)))
    apart = float(np.abs(curve.rgb - mean[:, np.newaxis]).max())
    return Picture(
        lambda look: correction_curve(correction, look),
        "curve",
        alt=f"What is sent instead of each level. The mean of the channels changes most, by "
        f"{signed(float(change[most]), 3)}, at level {fixed(float(curve.levels[most]))}; a channel "
        f"lies at most {fixed(apart, 3)} from that mean.",
        caption="1 is the whole range from black to paper. The upper panel makes tones lighter or "
        "darker; the lower one is what turns their hue. The tones below are as predicted.",
    )


def _largest(course: Course) -> float:
    inner = slice(1, -1)
    return float(chroma(course.delta[inner, 1:]).max())
