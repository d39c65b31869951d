"""What one print's greys are under many lights, for several viewers and many observers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from greyscale.aims.neutral import NeutralAim, neutral_aim
from greyscale.aims.tone import ToneAim
from greyscale.analysis.brighteners import WITHOUT_UV, Print
from greyscale.analysis.certainty import ramp_noise
from greyscale.analysis.neutrality import means_over_lightness
from greyscale.colorimetry.arrays import Array, Mask
from greyscale.colorimetry.cielab import chroma, xyz_to_lab
from greyscale.colorimetry.fluorescence import credible_excitation, excitation
from greyscale.colorimetry.illuminant_change import colour_inconstancy, metamerism_index
from greyscale.colorimetry.individuals import individual_weights
from greyscale.colorimetry.lights import Light, light
from greyscale.colorimetry.tristimulus import WavelengthGrid, tristimulus_weights

EYES = (0.025, 0.975)
"""Between these shares of the individual observers is what is given as their range."""


@dataclass(frozen=True, eq=False)
class UnderLights:
    """A print under k lights; arrays of shape (k,) unless they say otherwise.

    Attributes
    ----------
    lab
        Shape (k, n, 3): CIELAB of the ramp, by falling level, against the light's white.
    mean_delta_Ch, max_delta_Ch
        Against the neutral aim, for a viewer adapted to the light; over the tones.
    mean_delta_Ch_to_paper, max_delta_Ch_to_paper
        For a viewer adapted to the paper under that light: ΔCh from no chroma at all.
    paper_ab
        Shape (k, 2): the paper's own tint.
    mean_metamerism_index, max_metamerism_index, mean_inconstancy, max_inconstancy
        Over the tones, CIEDE2000, from D50 to the light.
    L_range, rms_delta_L
        L* of paper less L* of black; error against the tone aim.
    observers_low, observers_high
        Within these, 95 % of individual observers see the mean ΔCh.
    brightener_low, brightener_high
        Least and largest mean ΔCh, as much as is not known of brightener and lamp.
    paper_shift_by_brightener, greys_shift_by_brightener
        How far the brightener alone moves paper (and the tones, mean) in ΔCh between D50 and
        the light; NaN where M1 and M2 were not both read.
    sd_mean_delta_Ch
        Standard deviation of `mean_delta_Ch` from the reading's repeatability.
    """

    lab: Array
    mean_delta_Ch: Array
    max_delta_Ch: Array
    mean_delta_Ch_to_paper: Array
    max_delta_Ch_to_paper: Array
    paper_ab: Array
    mean_metamerism_index: Array
    max_metamerism_index: Array
    mean_inconstancy: Array
    max_inconstancy: Array
    L_range: Array
    rms_delta_L: Array
    observers_low: Array
    observers_high: Array
    brightener_low: Array
    brightener_high: Array
    paper_shift_by_brightener: Array
    greys_shift_by_brightener: Array
    sd_mean_delta_Ch: Array


@dataclass(frozen=True, eq=False)
class _Weights:
    """Weights and whites of lights for observers on one grid: made once for all prints.

    `matrix` is (m, k·o·3), `white` (k, o, 3); `D50` (m, o, 3); `excites` and the least and the most
    that it may be (k,).
    """

    matrix: Array
    white: Array
    D50: Array
    excites: Array
    least: Array
    most: Array


@lru_cache(maxsize=32)
def _weights(
    grid: WavelengthGrid,
    lights: tuple[Light, ...],
    observer: str,
    *,
    eyes: bool,
) -> _Weights:
    """The first observer is the one named; the others are individuals, if asked for."""

    def of(one: Light) -> Array:
        named = tristimulus_weights(grid, one, observer)[:, np.newaxis]
        return np.concatenate([named, individual_weights(grid, one)], axis=1) if eyes else named

    parts = np.stack([of(one) for one in lights], axis=1)
    least, most = np.array([credible_excitation(one) for one in lights]).T
    return _Weights(
        matrix=parts.reshape(grid.count, -1),
        white=parts.sum(axis=0),
        D50=of(light("D50")),
        excites=np.array([excitation(one) for one in lights]),
        least=least,
        most=most,
    )


def look_under_lights(
    own: Print,
    lights: Sequence[Light],
    *,
    neutral: NeutralAim,
    tone: ToneAim,
    scaling: str,
    observer: str = "2",
    eyes: bool = False,
) -> UnderLights:
    """Compute a print under lights.

    Parameters
    ----------
    own
        The print.
    lights
        The k lights.
    neutral, tone, scaling
        The aims.
    observer
        The observer of all figures but the individuals' range.
    eyes
        Whether that is wanted; else it has no width.
    """
    grid = WavelengthGrid.of(own.wavelengths)
    weights = _weights(grid, (light("D50"), *lights), observer, eyes=eyes)
    xyz = _tristimulus(own, weights)
    lab = _lab(xyz, weights.white)
    tones, paper, black = own.ramp.is_tone, own.ramp.paper_index, own.ramp.black_index

    drifts = _delta_ab(lab, neutral, paper, black)
    delta_Ch = chroma(drifts)
    mean = means_over_lightness(delta_Ch[..., tones], lab[..., tones, 0])
    adapted = _lab(xyz, xyz[:, :, paper])
    to_paper = chroma(adapted[..., 1:])[1:, 0][..., tones]
    index, inconstancy = _changes(xyz[:, 0], weights.white[:, 0])
    L = lab[1:, 0][..., tones, 0]
    own_mean = mean[1:, 0]
    low, high = _brightener_range(own, weights, neutral, own_mean)
    eyes_low, eyes_high = np.quantile(mean[1:, 1:] if eyes else mean[1:], EYES, axis=-1)
    paper_shift, greys_shift = _shift_by_brightener(own, weights, lab[:, 0], tones)
    return UnderLights(
        lab=lab[1:, 0],
        mean_delta_Ch=own_mean,
        max_delta_Ch=delta_Ch[1:, 0][..., tones].max(axis=-1),
        mean_delta_Ch_to_paper=means_over_lightness(to_paper, L),
        max_delta_Ch_to_paper=to_paper.max(axis=-1),
        paper_ab=lab[1:, 0, paper, 1:],
        mean_metamerism_index=means_over_lightness(index[:, tones], L),
        max_metamerism_index=index[:, tones].max(axis=-1),
        mean_inconstancy=means_over_lightness(inconstancy[:, tones], L),
        max_inconstancy=inconstancy[:, tones].max(axis=-1),
        L_range=lab[1:, 0, paper, 0] - lab[1:, 0, black, 0],
        rms_delta_L=_tone_error(own, lab[1:, 0], tone, scaling),
        observers_low=eyes_low,
        observers_high=eyes_high,
        brightener_low=low,
        brightener_high=high,
        paper_shift_by_brightener=paper_shift,
        greys_shift_by_brightener=greys_shift,
        sd_mean_delta_Ch=_sd_of_mean(own, drifts[1:, 0], lab[1:, 0], neutral),
    )


def _tristimulus(own: Print, weights: _Weights) -> Array:
    """Return X, Y, Z, shape (k, o, n, 3): what is reflected, and what the light makes glow."""
    lights, observers = weights.white.shape[:2]
    reflected = (own.base @ weights.matrix).reshape(len(own.base), lights, observers, 3)
    total = np.moveaxis(reflected, 0, 2)
    if own.glow.any():
        emitted = np.moveaxis(np.einsum("nm,moc->noc", own.glow, weights.D50), 0, 1)
        total = total + weights.excites[:, np.newaxis, np.newaxis, np.newaxis] * emitted
    return total


def _lab(xyz: Array, white: Array) -> Array:
    return xyz_to_lab(xyz, white[:, :, np.newaxis, :])


def _delta_ab(lab: Array, neutral: NeutralAim, paper: int, black: int) -> Array:
    aim = neutral_aim(
        neutral, lab[..., 0], lab[..., paper : paper + 1, :], lab[..., black : black + 1, :]
    )
    return np.asarray(lab[..., 1:] - aim)


def _changes(xyz: Array, white: Array) -> tuple[Array, Array]:
    """Return metamerism index and colour inconstancy from D50, the first, to each other light."""
    whites = white[:, np.newaxis, :]
    arguments = xyz[:1], xyz[1:], whites[:1], whites[1:]
    same = np.broadcast_to(xyz[:1], xyz[1:].shape)
    return (
        metamerism_index(same, *arguments[1:]),
        colour_inconstancy(same, *arguments[1:]),
    )


def _tone_error(own: Print, lab: Array, tone: ToneAim, scaling: str) -> Array:
    tones, level = own.ramp.is_tone, own.ramp.level
    paper, black = own.ramp.paper_index, own.ramp.black_index
    aims = np.stack(
        [tone.target(level, float(L[black]), float(L[paper]), scaling) for L in lab[..., 0]]
    )
    error = (lab[..., 0] - aims)[:, tones]
    return np.asarray(np.sqrt(means_over_lightness(error**2, lab[:, tones, 0])))


SHARES = np.linspace(0.0, 1.0, 7)
"""Shares of what may glow at which the range is sought first."""

REFINEMENTS = 2
"""How often the search goes on around the least mean ΔCh: it lies in a narrow dip."""


VISIBLE_RANGE = 0.05
"""A range narrower than this is not worth a closer look."""


def _brightener_range(
    own: Print, weights: _Weights, neutral: NeutralAim, nominal: Array
) -> tuple[Array, Array]:
    """Return the least and largest mean ΔCh, each of shape (k,), over what is not known.

    Not known is how much a lamp excites, by its table and by where the brightener's excitation
    lies; and, with one condition read, how much
    the brightener glows at all, from nothing to the most.
    """
    may = (weights.most - weights.least)[1:]
    if not own.most.any() or (own.known and not may.any()):
        return nominal, nominal
    parts = _parts(own, weights)
    low, high = nominal, nominal
    for lamp in (0.0, 1.0) if not own.known else (None,):
        shares = SHARES[:, np.newaxis] + np.zeros_like(may)
        step = float(SHARES[1])
        for _ in range(REFINEMENTS + 1):
            glowing = shares if lamp is not None else np.ones_like(shares)
            exciting = shares if lamp is None else np.full_like(shares, lamp)
            means = _means_at(own, parts, neutral, glowing, exciting)
            low, high = np.minimum(low, means.min(axis=0)), np.maximum(high, means.max(axis=0))
            if np.max(high - low) < VISIBLE_RANGE:
                break
            best = np.take_along_axis(shares, means.argmin(axis=0)[np.newaxis], axis=0)
            shares = np.clip(best + step * (2 * SHARES[:, np.newaxis] - 1), 0.0, 1.0)
            step *= 2 * float(SHARES[1])
    return low, high


@dataclass(frozen=True, eq=False)
class _Parts:
    """What colours under lights are made of: shapes (n, k, 3), but `white` (k, 3).

    Colours without the glow; all that may glow there, with the least that the lamps excite and by
    what may come to it.
    """

    bare: Array
    glow: Array
    further: Array
    white: Array


def _parts(own: Print, weights: _Weights) -> _Parts:
    shape = len(own.base), len(weights.white), weights.white.shape[1], 3
    bare = (own.base @ weights.matrix).reshape(shape)[:, 1:, 0]
    emitted = (own.most @ weights.D50[:, 0])[:, np.newaxis]
    glow = weights.least[1:, np.newaxis] * emitted
    if not own.known and own.ramp.reading.condition != WITHOUT_UV:
        # Of a reading with UV the glow is part of what was read; without it, what is left is bare.
        glow = glow - (own.most @ weights.matrix).reshape(shape)[:, 1:, 0]
    may = (weights.most - weights.least)[1:, np.newaxis]
    return _Parts(bare, glow, may * emitted, weights.white[1:, 0])


def _means_at(
    own: Print, parts: _Parts, neutral: NeutralAim, glowing: Array, exciting: Array
) -> Array:
    """Return mean ΔCh where a share of the most glows, and a share of what may excite does.

    Both shares, and the result, of shape (cases, k).
    """
    change = parts.glow + exciting[:, np.newaxis, :, np.newaxis] * parts.further
    xyz = parts.bare + glowing[:, np.newaxis, :, np.newaxis] * change
    lab = np.moveaxis(xyz_to_lab(xyz, parts.white), 1, 2)
    tones = own.ramp.is_tone
    delta_Ch = chroma(_delta_ab(lab, neutral, own.ramp.paper_index, own.ramp.black_index))
    return means_over_lightness(delta_Ch[..., tones], lab[..., tones, 0])


def _shift_by_brightener(
    own: Print, weights: _Weights, lab: Array, tones: Mask
) -> tuple[Array, Array]:
    """Return how much of the shift from D50 comes from the brightener: paper, and mean of tones."""
    if not own.known:
        nothing = np.full(len(lab) - 1, np.nan)
        return nothing, nothing
    bare = np.moveaxis(
        (own.base @ weights.matrix).reshape(len(own.base), *weights.white.shape)[:, :, 0], 0, 1
    )
    bare_lab = xyz_to_lab(bare, weights.white[:, np.newaxis, 0])
    shift, bare_shift = lab[1:] - lab[:1], bare_lab[1:] - bare_lab[:1]
    by_brightener = chroma((shift - bare_shift)[..., 1:])
    L = lab[1:][:, tones, 0]
    return (
        by_brightener[:, own.ramp.paper_index],
        means_over_lightness(by_brightener[:, tones], L),
    )


def _sd_of_mean(own: Print, drifts: Array, lab: Array, neutral: NeutralAim) -> Array:
    """Propagate the repeatability to the mean ΔCh; shapes (k, n, 2), (k, n, 3) to (k,).

    A tone's noise counts by its share of the mean. The paper's moves the aim of all tones at
    once, by as much of its tint as each aim keeps.
    """
    tones, counts = own.ramp.is_tone, own.ramp.counts
    sd = ramp_noise(own.ramp)[0]
    size = chroma(drifts)[..., np.newaxis]
    direction = np.divide(drifts, size, out=np.zeros_like(drifts), where=size > 0)[:, tones]
    L = lab[:, tones, 0]
    edges = np.abs(np.diff(L, axis=1))
    share = np.zeros_like(L)
    share[:, 1:] += edges / 2
    share[:, :-1] += edges / 2
    if L.shape[1] == 1:
        share[:] = 1.0  # one tone alone has no neighbour to reach to
    share /= share.sum(axis=1, keepdims=True)
    paper, black = own.ramp.paper_index, own.ramp.black_index
    unit = np.ones((len(lab), 1, 3))
    unit[..., 0] = lab[:, paper : paper + 1, 0]
    kept = neutral_aim(neutral, L, unit, lab[:, black : black + 1])[..., :1]
    by_paper = np.sum(share[..., np.newaxis] * kept * direction, axis=1)
    variance = np.sum(share**2 / counts[tones], axis=1)
    variance = variance + np.sum(by_paper**2, axis=1) / counts[paper]
    return np.asarray(sd * np.sqrt(variance))
