"""What a correction does over the tones of one picture, and how surely."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.analysis.certainty import MEAN_LENGTH
from greyscale.charts.picture_tones import PictureTones
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import delta_Ch
from greyscale.correction.record import Correction, Curve

SURE_ENOUGH = 1.25
"""Less sure than over the whole scale by this factor, a picture is worth a chart of its own."""


@dataclass(frozen=True)
class PictureSureness:
    """ΔCh to be expected, and 95 % limits of a*, b* of the predicted print, in CIELAB units.

    Attributes
    ----------
    delta_Ch
        Mean ΔCh over the picture, by the shares of its tones, the uncertainty counted in.
    picture
        Mean of the limits over the picture.
    whole
        Mean over all tones.
    worst_level, worst
        The tone of the picture that is known least surely, and its limit; tones that hold less
        than a thousandth of the picture do not count.
    """

    delta_Ch: float
    picture: float
    whole: float
    worst_level: float
    worst: float

    @property
    def worth_a_chart(self) -> bool:
        """Whether patches at this picture's tones would make its print surer."""
        return self.picture > SURE_ENOUGH * self.whole


def sd_ab(curve: Curve) -> Array:
    """The standard deviation of a predicted print's a*, b*, both as one: shape (n,)."""
    sd: Array = np.sqrt(np.mean(curve.sd[:, 1:] ** 2, axis=1))
    return sd


def with_uncertainty(delta_Ch: Array, sd: Array) -> Array:
    """The ΔCh to be expected of tones that are predicted at this ΔCh, known to this sd."""
    expected: Array = np.hypot(delta_Ch, MEAN_LENGTH * sd)
    return expected


def picture_sureness(correction: Correction, tones: PictureTones) -> PictureSureness:
    """Weigh the uncertainty of a correction by the tones of a picture."""
    curve = correction.curve
    sd = sd_ab(curve)
    limit = 1.96 * sd
    at = np.interp(tones.levels, curve.levels, limit)
    shares: Array = tones.shares / tones.shares.sum()
    counted = np.where(shares >= 1e-3, at, 0.0)
    worst = int(np.argmax(counted))
    return PictureSureness(
        delta_Ch=tones.mean_of(
            curve.levels,
            with_uncertainty(delta_Ch(curve.lab, correction.aim_lab), sd),
        ),
        picture=float(shares @ at),
        whole=float(limit.mean()),
        worst_level=float(tones.levels[worst]),
        worst=float(counted[worst]),
    )
