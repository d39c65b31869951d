"""A correction's own aims, as an analysis of its prints needs them; no table has to be at hand."""

from __future__ import annotations

import numpy as np

from greyscale.aims.neutral import AimByLightness, NeutralAim
from greyscale.aims.tone import TONE_AIMS, ToneAim, tone_aim
from greyscale.correction.correct import Correction


def tone_aim_of(correction: Correction) -> ToneAim:
    """Give the correction's tone aim; of a table, as the correction keeps it."""
    if correction.aim in TONE_AIMS:
        return tone_aim(correction.aim)
    levels, L = correction.curve.levels, correction.aim_lab[:, 0]
    return ToneAim(correction.aim, lambda level: np.interp(level, levels, L))


def neutral_aim_of(correction: Correction) -> NeutralAim:
    """Give the correction's neutral aim, or what it is toned to."""
    if correction.toning is None:
        return correction.neutral
    order = np.argsort(correction.aim_lab[:, 0], kind="stable")
    aim = correction.aim_lab[order]
    return AimByLightness(correction.toning, aim[:, 0], aim[:, 1:])
