"""The pictures of a correction and of a verification, with what to read in them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from greyscale.aims.neutral import neutral_aim
from greyscale.aims.tolerances import DEFAULT_TOLERANCE, tolerance
from greyscale.analysis.analyse import PatchTable
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import chroma
from greyscale.correction.record import Correction
from greyscale.correction.targets import neutral_aim_of
from greyscale.correction.verify import Verification, uncorrected_reading
from greyscale.readings.repeats import average_repeats
from greyscale.reporting.cast_words import joined
from greyscale.reporting.figures.before_after import (
    BeforeAfter,
    Course,
    before_after_colour,
    before_after_strip,
    before_after_tone,
)
from greyscale.reporting.figures.correction_curve import correction_curve
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.page import Picture
from greyscale.reporting.swatches import EXAGGERATION

# The ramps of a correction or a verification, side by side, for figures and tables.


def correction_courses(correction: Correction) -> BeforeAfter:
    """Return the uncorrected ramp as measured, and the corrected one as predicted."""
    curve = correction.curve
    measured = average_repeats(uncorrected_reading(correction)).reading
    order = np.argsort(measured.level)
    level, lab = measured.level[order], measured.lab[order]
    return BeforeAfter(
        (
            Course(
                "before", level, lab, _delta(correction, level, lab),
                cast=_cast(lab, correction.neutral, correction.paper, correction.black)
                if correction.toning
                else None,
            ),
            Course(
                "predicted",
                curve.levels,
                curve.lab,
                _delta(correction, curve.levels, curve.lab),
                curve.sd,
            ),
        ),
        tolerance(DEFAULT_TOLERANCE).max_delta_Ch,
        correction.toning is not None,
    )  # fmt: skip


def verification_courses(verification: Verification) -> BeforeAfter:
    """Return the ramp before, as predicted, and after."""
    before, cast = verification.before, None
    if verification.toning is not None:
        cast = _cast(before.patches.lab, verification.neutral, before.paper, before.black)
    return BeforeAfter(
        (
            replace(_course("before", before.patches), cast=cast),
            _course("predicted", verification.predicted.patches, verification.predicted_sd),
            _course("after", verification.after.patches),
        ),
        verification.after.neutrality.tolerance_max_delta_Ch,
        verification.toning is not None,
    )


def _cast(lab: Array, neutral: str, paper: Array, black: Array) -> Array:
    """Return a*, b* minus those at which a ramp's tones would look neutral, shape (n, 2)."""
    return lab[:, 1:] - neutral_aim(neutral, lab[:, 0], paper, black)


def _delta(correction: Correction, level: Array, lab: Array) -> Array:
    """Return L*, a*, b* minus their aims: that of L* at the level, of a*, b* at the L* measured."""
    aim_L = np.interp(level, correction.curve.levels, correction.aim_lab[:, 0])
    aim_ab = neutral_aim(neutral_aim_of(correction), lab[:, 0], correction.paper, correction.black)
    return lab - np.column_stack([aim_L, aim_ab])


def _course(name: str, patches: PatchTable, sd: Array | None = None) -> Course:
    delta = np.column_stack([patches.delta_L, patches.delta_ab])
    return Course(name, patches.level, patches.lab, delta, sd)


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
