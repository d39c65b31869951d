"""What a print's casts and tone errors mean for one picture: how much of it lies in each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.tone import ToneAim
from greyscale.analysis.neutrality import Cast
from greyscale.analysis.tonality import Tonality
from greyscale.colorimetry.arrays import Array

if TYPE_CHECKING:
    from greyscale.charts.picture_tones import PictureTones


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


MIDTONES = (0.25, 0.75)
"""Levels between which tones are called mid-tones."""


@dataclass(frozen=True)
class OnPaper:
    """What a paper's black and white leave of a picture.

    Attributes
    ----------
    blocked_below, bleached_above
        Levels below which all tones print within one unit of L* of black, and above which of
        paper; None where none does.
    blocked_share, bleached_share
        Share of the picture that lies there; what is black or paper itself is not counted.
    midtone_L
        Mean L* aimed at for the picture's mid-tones, by scaling; of level 0.5 where it has none.
    """

    blocked_below: float | None
    blocked_share: float
    bleached_above: float | None
    bleached_share: float
    midtone_L: dict[str, float]


def on_paper(
    tones: PictureTones, tone: Tonality, aim: ToneAim, black: float, paper: float
) -> OnPaper:
    """Say what a paper leaves of a picture's ends, and what the scalings make of its mid-tones.

    Parameters
    ----------
    tone
        The ramp's tone scale.
    aim
        The tone aim.
    black, paper
        L* of them.
    """
    below, above = tone.distinct_shadow_level, tone.distinct_highlight_level
    low = 0.0 if below is None else tones.share_between(0.0, below) - float(tones.shares[0])
    high = 0.0 if above is None else tones.share_between(above, 1.0) - float(tones.shares[-1])
    inside = (tones.levels >= MIDTONES[0]) & (tones.levels <= MIDTONES[1])
    if tones.shares[inside].sum() < 0.001:
        inside = np.abs(tones.levels - 0.5) < 0.003
        weight = inside.astype(np.float64)
    else:
        weight = np.where(inside, tones.shares, 0.0)

    def midtone(scaling: str) -> float:
        aimed = aim.target(tones.levels, black, paper, scaling)
        return float(np.average(aimed, weights=weight))

    return OnPaper(
        blocked_below=below,
        blocked_share=max(low, 0.0),
        bleached_above=above,
        bleached_share=max(high, 0.0),
        midtone_L={scaling: midtone(scaling) for scaling in ("linear", "black-point")},
    )


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
    on_paper
        What the paper leaves of its ends, and the scalings of its mid-tones; None where it was
        not asked.
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
    on_paper: OnPaper | None = None


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
    """Return the levels that a cast reaches from and to: half way to the tones beside it.

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
