"""How every tone prints on one paper under one light, and what that means for one picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.neutral import NeutralAim, neutral_aim
from greyscale.aims.tone import ToneAim
from greyscale.analysis.neutrality import Cast, drift, find_casts, to_be_named
from greyscale.analysis.ramp import Ramp, ramp_of
from greyscale.analysis.tonality import Tonality
from greyscale.base.errors import BadInput
from greyscale.base.results import filled
from greyscale.colorimetry.arrays import Array, columns_at
from greyscale.colorimetry.cielab import chroma
from greyscale.colorimetry.lights import REFERENCE_LIGHT, Light
from greyscale.readings.reading import Reading

if TYPE_CHECKING:
    from greyscale.charts.picture_tones import PictureTones

STEPS = 4097
"""Levels at which a scale is known: finer than any picture is looked at."""

NEAR = 0.25
"""Patches whose channels lie farther apart than this, 0 to 1, tell nothing of greys."""

LEAST_NEAR = 6
"""Near-neutral patches from which on they tell how a tint changes with the light."""


@dataclass(frozen=True, eq=False)
class PrintedTones:
    """A scale of tones as it prints, by rising level.

    Attributes
    ----------
    levels
        Shape (n,): from 0 to 1, evenly.
    lab
        Shape (n, 3): CIELAB under the light, against its own white.
    aim_ab
        Shape (n, 2): the neutral aim at each L*.
    casts
        The casts along the scale, by rising level.
    measured
        Shape (m,): the levels that were measured.
    """

    levels: Array
    lab: Array
    aim_ab: Array
    casts: tuple[Cast, ...]
    measured: Array

    @property
    def delta_Ch(self) -> Array:
        """ΔCh of each, shape (n,)."""
        return chroma(self.lab[:, 1:] - self.aim_ab)

    def exaggerated(self, factor: float) -> PrintedTones:
        """Return the same with its distance from the neutral aim multiplied; L* stays."""
        ab = self.aim_ab + factor * (self.lab[:, 1:] - self.aim_ab)
        return replace(self, lab=np.column_stack([self.lab[:, 0], ab]))

    def delta_L(self, tone: ToneAim, scaling: str) -> Array:
        """Return L* of each less the tone aim between its own black and paper, shape (n,)."""
        return np.asarray(self.lab[:, 0] - self._aim_L(tone, scaling))

    def aimed(self, tone: ToneAim, scaling: str) -> PrintedTones:
        """Return the tones as they are aimed at, between the print's own black and paper."""
        L = self._aim_L(tone, scaling)
        order = np.argsort(self.lab[:, 0], kind="stable")
        known, aims = self.lab[order, 0], self.aim_ab[order]
        aim_ab = columns_at(L, known, aims)
        return replace(self, lab=np.column_stack([L, aim_ab]), aim_ab=aim_ab, casts=())

    def _aim_L(self, tone: ToneAim, scaling: str) -> Array:
        L = self.lab[:, 0]
        return tone.target(self.levels, float(L.min()), float(L.max()), scaling)


def printed_tones(reading: Reading, light: Light, neutral: NeutralAim) -> PrintedTones:
    """Return how tones print that are sent as they are.

    Between the measured tones the scale is smooth and turns back nowhere that they do not: a
    piecewise cubic after Fritsch and Carlson (1980). Beyond them it is held.

    Raises
    ------
    BadInput
        If the reading has no ramp, or no spectra for another light than that of its CIELAB.
    """
    ramp = ramp_of(reading)
    other = None if light.name == _light_of(reading) else light
    if other is not None and not reading.spectral:
        raise BadInput(
            f"holds CIELAB under {REFERENCE_LIGHT} and no spectra, so the print cannot be shown "
            f"under {light.name}; leave the light out, or measure spectra",
            reading.source,
        )
    lab = ramp.lab(other)
    levels = np.linspace(0.0, 1.0, STEPS)
    scale = smooth_scale(ramp.level, lab, levels)
    return PrintedTones(
        levels=levels,
        lab=scale,
        aim_ab=neutral_aim(neutral, scale[:, 0], lab[ramp.paper_index], lab[ramp.black_index]),
        casts=to_be_named(drift(ramp, neutral, other).casts),
        measured=np.sort(ramp.level),
    )


def corrected_tones(
    reading: Reading,
    light: Light,
    neutral: NeutralAim,
    levels: Array,
    predicted: Array,
) -> PrintedTones:
    """Return how tones print that go through a correction, as it predicts.

    The prediction is for the light of the reading's CIELAB. Under another light a tone moves as the
    measured grey of the same L* does; and what parts the two in a*, b* becomes what it becomes for
    the near-neutral patches of the reading, or stays, where it has none.

    Parameters
    ----------
    reading
        Of the uncorrected ramp.
    levels, predicted
        Shapes (n,) and (n, 3): the correction's levels and the CIELAB that it predicts.
    """
    before = printed_tones(reading, light, neutral)
    wanted = columns_at(before.levels, levels, predicted)
    ramp = ramp_of(reading)
    if light.name != _light_of(reading):
        wanted = _under_light(wanted, reading, ramp, light)
    aim_ab = neutral_aim(neutral, wanted[:, 0], wanted[-1], wanted[0])
    return replace(
        before,
        lab=wanted,
        aim_ab=aim_ab,
        casts=_casts(ramp, before.levels, wanted[:, 1:] - aim_ab),
    )


def _light_of(reading: Reading) -> str:
    return REFERENCE_LIGHT if reading.light is None else reading.light.name


def smooth_scale(level: Array, lab: Array, levels: Array) -> Array:
    """Return a ramp's CIELAB at other levels, without overshoot between the measured tones."""
    from scipy.interpolate import PchipInterpolator

    order = np.argsort(level)
    curve = PchipInterpolator(level[order], lab[order])
    return np.asarray(curve(np.clip(levels, level.min(), level.max())), dtype=np.float64)


def _under_light(lab: Array, reading: Reading, ramp: Ramp, light: Light) -> Array:
    """Return what tones near grey, CIELAB as the reading's, shape (n, 3), become under a light."""
    levels = np.linspace(0.0, 1.0, STEPS)
    greys = [smooth_scale(ramp.level, ramp.lab(one), levels) for one in (None, light)]

    def beside_grey(tones: Array) -> tuple[Array, Array]:
        """Return a*, b* less those of the grey of the same L*, and that grey under the light."""
        rising = np.maximum.accumulate(greys[0][:, 0])
        same = [columns_at(tones[:, 0], rising, grey) for grey in greys]
        return tones[:, 1:] - same[0][:, 1:], same[1]

    rows = ~reading.on_axis & (np.ptp(reading.device, axis=1) <= NEAR)
    becomes = np.eye(3)[1:]
    if rows.sum() >= LEAST_NEAR:
        distance, grey = beside_grey(reading.lab[rows])
        moved = reading.select(rows).lab_under(light) - grey
        becomes = np.asarray(np.linalg.lstsq(distance, moved, rcond=None)[0], dtype=np.float64)
    distance, grey = beside_grey(lab)
    return np.asarray(grey + distance @ becomes)


def _casts(ramp: Ramp, levels: Array, delta_ab: Array) -> tuple[Cast, ...]:
    """Find casts of a scale at the tones that were measured, paper and black left out."""
    tones = ramp.level[ramp.is_tone]
    delta = columns_at(tones, levels, delta_ab)
    return find_casts(tones, delta, np.zeros(tones.size, dtype=bool), ramp.repeatability.sd_Ch)


# How much of one picture lies in each cast, and what the paper leaves of it.


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

    aimed = {one: aim.target(tones.levels, black, paper, one) for one in ("linear", "black-point")}
    return OnPaper(
        blocked_below=below,
        blocked_share=max(low, 0.0),
        bleached_above=above,
        bleached_share=max(high, 0.0),
        midtone_L={one: float(np.average(L, weights=weight)) for one, L in aimed.items()},
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
    shares = tuple(
        filled(CastShare, cast, share=tones.share_between(*reach(cast, rising))) for cast in casts
    )
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
