"""The ramps of a correction or a verification, side by side, for figures and tables."""

from __future__ import annotations

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
            Course("before", level, lab, _delta(correction, level, lab)),
            Course(
                "predicted",
                curve.levels,
                curve.lab,
                _delta(correction, curve.levels, curve.lab),
                curve.sd,
            ),
        ),
        tolerance(DEFAULT_TOLERANCE).max_delta_Ch,
    )


def verification_courses(verification: Verification) -> BeforeAfter:
    """Give the ramp before, as predicted, and after."""
    return BeforeAfter(
        (
            _course("before", verification.before.patches),
            _course("predicted", verification.predicted.patches, verification.predicted_sd),
            _course("after", verification.after.patches),
        ),
        verification.after.neutrality.tolerance_max_delta_Ch,
    )


def _delta(correction: Correction, level: Array, lab: Array) -> Array:
    """Give L*, a*, b* minus their aims: that of L* at the level, of a*, b* at the L* measured."""
    aim_L = np.interp(level, correction.curve.levels, correction.aim_lab[:, 0])
    aim_ab = neutral_aim(neutral_aim_of(correction), lab[:, 0], correction.paper, correction.black)
    return lab - np.column_stack([aim_L, aim_ab])


def _course(name: str, patches: PatchTable, sd: Array | None = None) -> Course:
    delta = np.column_stack([patches.delta_L, patches.delta_ab])
    return Course(name, patches.level, patches.lab, delta, sd)
