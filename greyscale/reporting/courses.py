"""The ramps of a correction or a verification, side by side, for figures and tables."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from greyscale.aims.neutral import neutral_aim
from greyscale.aims.tolerances import DEFAULT_TOLERANCE, tolerance
from greyscale.analysis.analyse import PatchTable
from greyscale.colorimetry.arrays import Array
from greyscale.correction.own_aims import neutral_aim_of
from greyscale.correction.record import Correction
from greyscale.correction.verify import Verification, uncorrected_reading
from greyscale.readings.repeats import average_repeats
from greyscale.reporting.figures.before_after import BeforeAfter, Course


def correction_courses(correction: Correction) -> BeforeAfter:
    """Give the uncorrected ramp as measured, and the corrected one as predicted."""
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
    """Give the ramp before, as predicted, and after."""
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
    """Give L*, a*, b* minus their aims: that of L* at the level, of a*, b* at the L* measured."""
    aim_L = np.interp(level, correction.curve.levels, correction.aim_lab[:, 0])
    aim_ab = neutral_aim(neutral_aim_of(correction), lab[:, 0], correction.paper, correction.black)
    return lab - np.column_stack([aim_L, aim_ab])


def _course(name: str, patches: PatchTable, sd: Array | None = None) -> Course:
    delta = np.column_stack([patches.delta_L, patches.delta_ab])
    return Course(name, patches.level, patches.lab, delta, sd)
