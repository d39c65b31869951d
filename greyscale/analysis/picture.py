"""What a print's casts and tone errors mean for one picture: how much of it lies in each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.analysis.casts import Cast
from greyscale.charts.picture_tones import PictureTones
from greyscale.colorimetry.arrays import Array


@dataclass(frozen=True)
class CastShare:
    """A cast, and how much of the picture lies in it.

    Attributes
    ----------
    from_level, to_level, hue
        As in `Cast`.
    share
        Share of the picture's area from 0 to 1: of the pixels whose nearest measured tone is one
        of the cast's.
    """

    from_level: float
    to_level: float
    hue: str
    share: float


@dataclass(frozen=True)
class PictureNeutrality:
    """A print's neutrality and tones as one picture shows them, under D50.

    Means are over the picture's area; paper and black take part as far as the picture uses them.

    Attributes
    ----------
    source
        The picture's path, as it was given.
    pixels
        How many pixels were counted.
    mean_delta_Ch
        Mean ΔCh.
    mean_delta_L
        Mean of measured minus aimed L*: above 0, the picture prints too light.
    mean_abs_delta_L
        Mean size of it.
    casts
        The casts of the ramp by rising level, each with its share.
    share_in_casts
        Share of the picture that lies in some cast.
    paper_share, black_share
        Share that is bare paper, and that is the darkest black.
    remarks
        What reading the picture decided.
    """

    source: str
    pixels: int
    mean_delta_Ch: float
    mean_delta_L: float
    mean_abs_delta_L: float
    casts: tuple[CastShare, ...]
    share_in_casts: float
    paper_share: float
    black_share: float
    remarks: tuple[str, ...]


def picture_neutrality(
    tones: PictureTones, level: Array, delta_L: Array, delta_Ch: Array, casts: Sequence[Cast]
) -> PictureNeutrality:
    """Weigh a ramp's differences by where a picture has its tones.

    Between measured tones the differences are taken on straight lines.

    Parameters
    ----------
    tones
        The picture's tones.
    level, delta_L, delta_Ch
        Shape (n,): the ramp, levels distinct, in any order.
    casts
        The ramp's casts.
    """
    order = np.argsort(level)
    rising = level[order]
    shares = tuple(_cast_share(tones, rising, cast) for cast in casts)
    # On each straight line |ΔL*| may pass through 0, so it is taken after interpolation.
    delta_L_of_bins = np.interp(tones.levels, rising, delta_L[order])
    return PictureNeutrality(
        source=tones.source,
        pixels=tones.pixels,
        mean_delta_Ch=tones.mean_of(rising, delta_Ch[order]),
        mean_delta_L=float(tones.shares @ delta_L_of_bins),
        mean_abs_delta_L=float(tones.shares @ np.abs(delta_L_of_bins)),
        casts=shares,
        share_in_casts=min(1.0, sum(each.share for each in shares)),
        paper_share=float(tones.shares[-1]),
        black_share=float(tones.shares[0]),
        remarks=tones.remarks,
    )


def _cast_share(tones: PictureTones, rising: Array, cast: Cast) -> CastShare:
    share = tones.share_between(*reach(cast, rising))
    return CastShare(cast.from_level, cast.to_level, cast.hue, share)


def reach(cast: Cast, rising: Array) -> tuple[float, float]:
    """Give the levels that a cast reaches from and to: half way to the tones beside it.

    Parameters
    ----------
    rising
        Shape (n,): levels of the ramp.

    Examples
    --------
    >>> levels = np.array([0.0, 0.2, 0.4, 0.6, 1.0])
    >>> low, high = reach(Cast(0.2, 0.4, "greenish", 180.0, 2.0, 0.2), levels)
    >>> round(low, 3), round(high, 3)
    (0.1, 0.5)
    """
    first = int(np.argmin(np.abs(rising - cast.from_level)))
    last = int(np.argmin(np.abs(rising - cast.to_level)))
    low = rising[first] if first == 0 else (rising[first - 1] + rising[first]) / 2
    high = rising[last] if last == rising.size - 1 else (rising[last] + rising[last + 1]) / 2
    return float(low), float(high)
