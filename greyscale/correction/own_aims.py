"""A correction's own aims, as an analysis of its prints needs them; no table has to be at hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.neutral import AimByLightness, NeutralAim
from greyscale.aims.tone import TONE_AIMS, ToneAim, tone_aim
from greyscale.aims.toning import Toning, toning
from greyscale.base.errors import BadInput

if TYPE_CHECKING:
    from greyscale.correction.record import Correction


def tone_aim_of(correction: Correction) -> ToneAim:
    """Give the correction's tone aim; of a table, as the correction keeps it."""
    if correction.aim in TONE_AIMS:
        return tone_aim(correction.aim)
    levels, L = correction.curve.levels, correction.aim_lab[:, 0]
    return ToneAim(correction.aim, lambda level: np.interp(level, levels, L))


def neutral_aim_of(correction: Correction) -> NeutralAim:
    """Give the correction's neutral aim, or what it is toned to."""
    return correction.neutral if correction.toning is None else _toned(correction)


def kept_toning(correction: Correction) -> Toning | AimByLightness | None:
    """Give the correction's toning by its name; of a table, as the correction keeps it."""
    if correction.toning is None:
        return None
    try:
        found = toning(correction.toning)
    except BadInput:
        return _toned(correction)
    return found if found.by_share else _toned(correction)


def _toned(correction: Correction) -> AimByLightness:
    order = np.argsort(correction.aim_lab[:, 0], kind="stable")
    aim = correction.aim_lab[order]
    return AimByLightness(correction.toning or "toned", aim[:, 0], aim[:, 1:])
