"""How surely a correction is known over the tones of one picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.charts.picture_tones import PictureTones
from greyscale.colorimetry.arrays import Array
from greyscale.correction.correct import Correction

SURE_ENOUGH = 1.25
"""Less sure than over the whole scale by this factor, a picture is worth a chart of its own."""


@dataclass(frozen=True)
class PictureSureness:
    """95 % limits of a*, b* of the predicted print, in CIELAB units.

    Attributes
    ----------
    picture
        Mean over the picture, by the shares of its tones.
    whole
        Mean over all tones.
    worst_level, worst
        The tone of the picture that is known least surely, and its limit; tones that hold less
        than a thousandth of the picture do not count.
    """

    picture: float
    whole: float
    worst_level: float
    worst: float

    @property
    def worth_a_chart(self) -> bool:
        """Whether patches at this picture's tones would make its print surer."""
        return self.picture > SURE_ENOUGH * self.whole


def picture_sureness(correction: Correction, tones: PictureTones) -> PictureSureness:
    """Weigh the uncertainty of a correction by the tones of a picture."""
    limit = 1.96 * np.sqrt(np.mean(correction.curve.sd[:, 1:] ** 2, axis=1))
    at = np.interp(tones.levels, correction.curve.levels, limit)
    shares: Array = tones.shares / tones.shares.sum()
    counted = np.where(shares >= 1e-3, at, 0.0)
    worst = int(np.argmax(counted))
    return PictureSureness(
        picture=float(shares @ at),
        whole=float(limit.mean()),
        worst_level=float(tones.levels[worst]),
        worst=float(counted[worst]),
    )
