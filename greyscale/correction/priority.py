"""How much each tone of a correction counts: more where a picture has its tones."""

from __future__ import annotations

import numpy as np

from greyscale.charts.picture_tones import PictureTones
from greyscale.colorimetry.arrays import Array

MOST = 8.0
"""The most that a tone may count, so that a picture of few tones leaves the others their part."""


def priority(picture: PictureTones) -> Array:
    """Give how much each of 256 tones counts, shape (256,).

    Most of a correction has nothing to share out: each tone is solved for by itself, as well as
    the evidence allows. Two things are shared between tones: how far the solved values are made
    smooth, and the few nodes of a 3D LUT. There a tone counts as much more than usual as the
    picture has more of it than of an even spread of tones, but none counts less than usual.
    """
    return np.asarray(np.clip(picture.weight, 1.0, MOST))
