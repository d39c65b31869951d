"""Is the ramp neutral: how much it drifts, which casts are seen, whether it passes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from greyscale.aims.neutral import NeutralAim, neutral_aim, neutral_aim_name
from greyscale.aims.tolerances import Tolerance
from greyscale.analysis.casts import VISIBLE_DELTA_CH, Cast, find_casts, shown
from greyscale.analysis.certainty import credible_drifts, ramp_noise, thinned, verdict_of
from greyscale.analysis.ramp import Ramp
from greyscale.base.filled import filled
from greyscale.colorimetry.arrays import Array, Mask
from greyscale.colorimetry.cielab import chroma
from greyscale.colorimetry.differences import mean_over_lightness, means_over_lightness
from greyscale.colorimetry.lights import Light


@dataclass(frozen=True, eq=False)
class Drift:
    """The departure of a ramp from its neutral aim, under one light.

    Attributes
    ----------
    aim_ab
        Shape (n, 2): the neutral aim at each patch's measured L*.
    delta_ab
        Shape (n, 2): measured a*, b* minus the aim.
    delta_Ch
        Shape (n,): ΔCh.
    mean_delta_Ch
        Mean over L* of the tones: paper and black left out.
    max_delta_Ch, max_at_level
        The largest ΔCh of the tones, and where.
    black_delta_Ch
        ΔCh of black, which is the ink's.
    casts
        The runs of tones that are seen to have a hue, by rising level.
    credible
        Shape (draws, n): ΔCh as it may be without the noise, NaN where it was not drawn; None where
        nothing rests on it, under another light without casts.
    """

    aim_ab: Array
    delta_ab: Array
    delta_Ch: Array
    mean_delta_Ch: float
    max_delta_Ch: float
    max_at_level: float
    black_delta_Ch: float
    casts: tuple[Cast, ...]
    credible: Array | None


def drift(ramp: Ramp, aim: NeutralAim, light: str | Light | None = None) -> Drift:
    """Compare a ramp with its neutral aim.

    Parameters
    ----------
    ramp
        The ramp; paper and black of the aim are its own, under this light.
    aim
        A name of `greyscale.aims.neutral.NEUTRAL_AIMS`, or an aim of its own.
    light
        None for CIELAB as read (D50); else the ramp needs spectra.
    """
    lab = ramp.lab(light)
    paper, black = lab[ramp.paper_index], lab[ramp.black_index]
    aim_ab = neutral_aim(aim, lab[:, 0], paper, black)
    delta_ab = lab[:, 1:] - aim_ab
    delta_Ch = chroma(delta_ab)
    tones = ramp.is_tone
    worst = np.flatnonzero(tones)[np.argmax(delta_Ch[tones])]
    shared = _shared(ramp, aim, lab)
    sure = _confirmed(ramp, ramp.single_lab(light), aim_ab, delta_ab, shared)
    noise, _ = ramp_noise(ramp, delta_ab)
    casts = find_casts(ramp.level[tones], delta_ab[tones], sure[tones], noise, shared[tones])
    # Under other lights nothing else rests on it.
    credible = _credible(ramp, delta_ab, shared, noise) if casts or light is None else None
    return Drift(
        aim_ab=aim_ab,
        delta_ab=delta_ab,
        delta_Ch=delta_Ch,
        mean_delta_Ch=mean_over_lightness(delta_Ch[tones], lab[tones, 0]),
        max_delta_Ch=float(delta_Ch[worst]),
        max_at_level=float(ramp.level[worst]),
        black_delta_Ch=float(delta_Ch[ramp.black_index]),
        casts=_with_probability(casts, ramp, credible),
        credible=credible,
    )


def _credible(ramp: Ramp, delta_ab: Array, shared: Array, noise: float) -> Array:
    tones = np.flatnonzero(ramp.is_tone)
    # Of very many tones some, and the one that is farthest off.
    worst = tones[np.argmax(chroma(delta_ab[tones]))]
    tones = np.array(sorted({*tones[thinned(tones.size)].tolist(), int(worst)}))
    sd = noise / np.sqrt(ramp.counts[tones])
    drawn = chroma(credible_drifts(ramp.level[tones], delta_ab[tones], sd, noise * shared[tones]))
    found = np.full((len(drawn), len(ramp.level)), np.nan)
    found[:, tones] = drawn
    return found


def _with_probability(
    casts: tuple[Cast, ...], ramp: Ramp, credible: Array | None
) -> tuple[Cast, ...]:
    """Casts with their probabilities."""
    found = []
    if credible is None:
        return ()
    for cast in casts:
        inside = (ramp.level >= cast.from_level) & (ramp.level <= cast.to_level)
        inside &= ~np.isnan(credible[0])
        if not inside.any():
            # A cast of few among very many tones: by the nearest that was looked at.
            away = np.where(np.isnan(credible[0]), np.inf, np.abs(ramp.level - cast.peak_level))
            inside[np.argmin(away)] = True
        far = np.nanmax(credible[:, inside], axis=1) >= VISIBLE_DELTA_CH
        found.append(replace(cast, probability=float(far.mean())))
    return tuple(found)


def _shared(ramp: Ramp, aim: NeutralAim, lab: Array) -> Array:
    """How far the aim moves, if paper or black is measured one off in a* or b*, shape (n, 2).

    Over the root of how often that was measured.
    """
    ends = [lab[ramp.paper_index], lab[ramp.black_index]]
    at = neutral_aim(aim, lab[:, 0], *ends)
    columns = []
    for end, index in enumerate((ramp.paper_index, ramp.black_index)):
        off = [value + np.eye(3)[1] * (i == end) for i, value in enumerate(ends)]
        moved = neutral_aim(aim, lab[:, 0], *off) - at
        columns.append(moved[:, 0] / np.sqrt(ramp.counts[index]))
    return np.stack(columns, axis=1)


def _passing(ramp: Ramp, credible: Array, limits: Tolerance) -> float:
    """Compute the probability that the print keeps the limits, whatever the noise made of it."""
    tones = ~np.isnan(credible[0])
    drawn = credible[:, tones]
    means = means_over_lightness(drawn, np.broadcast_to(ramp.lab()[tones, 0], drawn.shape))
    keeps = (means <= limits.mean_delta_Ch) & (drawn.max(axis=1) <= limits.max_delta_Ch)
    return float(keeps.mean())


def _confirmed(
    ramp: Ramp, single_lab: Array, aim_ab: Array, delta_ab: Array, shared: Array
) -> Mask:
    """Say of which patches two or more measurements agree on a visible difference.

    Each must go visibly far in the direction of their mean, and the mean must be four of its own
    standard errors from the aim: of a score of neutral tones, noise then takes one in at less
    than one ramp of a hundred.
    """
    size = chroma(delta_ab)
    direction = np.divide(
        delta_ab, size[:, np.newaxis], out=np.zeros_like(delta_ab), where=delta_ab != 0
    )
    single_delta = single_lab[:, 1:] - aim_ab[ramp.owner]
    along = np.sum(single_delta * direction[ramp.owner], axis=1)
    least = np.full(len(ramp.level), np.inf)
    np.minimum.at(least, ramp.owner, along)
    variance = 1 / ramp.counts + np.sum(shared**2, axis=1)
    standard_error = ramp.repeatability.sd_Ch * np.sqrt(variance)
    agreed = (least >= VISIBLE_DELTA_CH) & (size >= 4 * standard_error)
    return np.asarray((ramp.counts >= 2) & agreed)


@dataclass(frozen=True)
class Neutrality:
    """The neutrality of a ramp under D50.

    Attributes
    ----------
    aim
        The neutral aim's name.
    mean_delta_Ch
        Mean over L* of the tones' ΔCh; paper and black left out.
    max_delta_Ch, max_at_level
        The largest ΔCh of the tones, and where.
    black_delta_Ch
        ΔCh of black: reported apart, its tint is the ink's.
    a_range, b_range
        Least and largest a*, b* of the whole ramp, paper and black with it.
    casts
        Runs of tones that are seen to have a hue, by rising level.
    tolerance, tolerance_mean_delta_Ch, tolerance_max_delta_Ch
        The grade judged by, and its limits.
    verdict
        "pass", "fail" or "cannot be told".
    probability
        That the print passes, the reading's noise allowed for.
    no_cast
        The probability that no tone is far enough from its aim to be seen.
    no_cast_verdict
        Whether that is "shown", "not shown" or "cannot be told".
    """

    aim: str
    mean_delta_Ch: float
    max_delta_Ch: float
    max_at_level: float
    black_delta_Ch: float
    a_range: tuple[float, float]
    b_range: tuple[float, float]
    casts: tuple[Cast, ...]
    tolerance: str
    tolerance_mean_delta_Ch: float
    tolerance_max_delta_Ch: float
    verdict: str
    probability: float
    no_cast: float
    no_cast_verdict: str

    @property
    def passes(self) -> bool:
        """Whether the verdict is "pass"."""
        return self.verdict == "pass"


def assess_neutrality(ramp: Ramp, found: Drift, aim: NeutralAim, limits: Tolerance) -> Neutrality:
    """Judge a ramp against a neutral aim and a tolerance grade.

    Parameters
    ----------
    ramp
        The ramp; its CIELAB as read is used.
    found
        What `drift` gives for this ramp and aim.
    """
    credible = found.credible
    assert credible is not None
    lab = ramp.lab()
    probability = _passing(ramp, credible, limits)
    no_cast = float((np.nanmax(credible, axis=1) < VISIBLE_DELTA_CH).mean())
    return filled(
        Neutrality,
        found,
        aim=neutral_aim_name(aim),
        a_range=_range(lab[:, 1]),
        b_range=_range(lab[:, 2]),
        tolerance=limits.name,
        tolerance_mean_delta_Ch=limits.mean_delta_Ch,
        tolerance_max_delta_Ch=limits.max_delta_Ch,
        verdict=verdict_of(probability),
        probability=probability,
        no_cast=no_cast,
        no_cast_verdict=shown(no_cast),
    )


def _range(values: Array) -> tuple[float, float]:
    return float(values.min()), float(values.max())
