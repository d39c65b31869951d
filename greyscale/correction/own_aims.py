"""A correction's own aims, as an analysis of its prints needs them; no table has to be at hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.neutral import AimByLightness, NeutralAim
from greyscale.aims.tone import TONE_AIMS, ToneAim, tone_aim
from greyscale.aims.toning import Toning, toning
from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array

if TYPE_CHECKING:
    from greyscale.correction.record import Correction


def tone_aim_of(correction: Correction) -> ToneAim:
    """Give the correction's tone aim; of a table, as the correction keeps it."""
    if correction.aim in TONE_AIMS:
        return tone_aim(correction.aim)
    levels, L = correction.curve.levels, correction.aim_lab[:, 0]
    return ToneAim(correction.aim, lambda level: np.interp(level, levels, L))


def neutral_aim_of(correction: Correction, light: str | None = None) -> NeutralAim:
    """Give the correction's neutral aim, or what it is toned to.

    Parameters
    ----------
    light
        The name of one of its lights; None is its own.
    """
    if correction.toning is None:
        return correction.neutral
    there = [one.aim_lab for one in correction.lights if one.name == light]
    return _toned(correction, there[0] if there else correction.aim_lab)


def kept_toning(correction: Correction) -> Toning | AimByLightness | None:
    """Give the correction's toning by its name; of a table, as the correction keeps it."""
    if correction.toning is None:
        return None
    try:
        found = toning(correction.toning)
    except BadInput:
        return _toned(correction, correction.aim_lab)
    return found if found.by_share else _toned(correction, correction.aim_lab)


def _toned(correction: Correction, aim_lab: Array) -> AimByLightness:
    aim = aim_lab[np.argsort(aim_lab[:, 0], kind="stable")]
    return AimByLightness(correction.toning or "toned", aim[:, 0], aim[:, 1:])
