"""Is the ramp neutral: how much it drifts, which casts are seen, whether it passes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from greyscale.aims.neutral import NeutralAim, neutral_aim, neutral_aim_name
from greyscale.aims.tolerances import Tolerance
from greyscale.analysis.certainty import (
    FAIL,
    PASS,
    credible_drifts,
    ramp_noise,
    thinned,
    verdict_of,
)
from greyscale.analysis.ramp import Ramp
from greyscale.base.results import filled
from greyscale.colorimetry.arrays import Array, ArrayLike, Mask, runs_of
from greyscale.colorimetry.cielab import (
    chroma,
    hue_angle,
    mean_over_lightness,
    means_over_lightness,
)
from greyscale.colorimetry.lights import Light

VISIBLE_DELTA_CH = 1.0
"""A tone farther than this from its neutral aim is seen to have a hue."""

ALONE_DELTA_CH, PLAIN_DELTA_CH = 2.0, 3.0
"""From the first on a careful viewer notices a cast on one print alone, from the second anyone."""

FALSE_CASTS = 0.005
"""How often a cast may be found on a print that has none."""

SHOWN, NOT_SHOWN, CANNOT_BE_TOLD = "shown", "not shown", "cannot be told"

HUES = (
    "reddish",
    "orange",
    "yellowish",
    "yellow-green",
    "greenish",
    "blue-green",
    "bluish",
    "purplish",
)
"""The eight sectors of 45°; the first is centred on the +a* axis (0°)."""

SECTOR = 45.0


@dataclass(frozen=True)
class Cast:
    """A run of tones that are seen to have a hue.

    Attributes
    ----------
    from_level, to_level
        The lowest and the highest level of the run.
    hue
        The name of the hue at the peak.
    hue_angle
        The hue angle of (Δa*, Δb*) at the peak, degrees.
    peak_delta_Ch, peak_level
        The largest ΔCh of the run, and where.
    probability
        That a tone of the run really is as far from its aim as is seen, the reading's noise
        allowed for.
    """

    from_level: float
    to_level: float
    hue: str
    hue_angle: float
    peak_delta_Ch: float
    peak_level: float
    probability: float = 1.0

    @property
    def verdict(self) -> str:
        """Whether it is shown: see `shown`."""
        return shown(self.probability)


def shown(probability: float) -> str:
    """Return "shown", "not shown" or "cannot be told" by the probability of what is claimed.

    Examples
    --------
    >>> shown(0.99), shown(0.5), shown(0.01)
    ('shown', 'cannot be told', 'not shown')
    """
    return {PASS: SHOWN, FAIL: NOT_SHOWN}.get(verdict_of(probability), CANNOT_BE_TOLD)


def to_be_named(casts: Iterable[Cast]) -> tuple[Cast, ...]:
    """Return the casts that a person is told of: all but those that are not shown.

    Examples
    --------
    >>> noise = Cast(0.2, 0.3, "bluish", 270.0, 1.1, 0.2, probability=0.01)
    >>> to_be_named([noise])
    ()
    """
    return tuple(cast for cast in casts if cast.verdict != NOT_SHOWN)


def hue_name(angle: float) -> str:
    """Name a hue angle (degrees) by its sector of 45°.

    Examples
    --------
    >>> hue_name(22.4), hue_name(22.5), hue_name(350.0)
    ('reddish', 'orange', 'reddish')
    """
    return HUES[int(np.floor((angle % 360.0 + SECTOR / 2) / SECTOR)) % len(HUES)]


def find_casts(
    level: ArrayLike,
    delta_ab: ArrayLike,
    confirmed: ArrayLike,
    sd_Ch: float,
    shared: ArrayLike | None = None,
) -> tuple[Cast, ...]:
    """Find the casts along a ramp.

    A tone counts when its ΔCh is at least 1 and more than twice the repeatability; a cast is at
    least two such tones side by side that noise alone would hardly make, anywhere along the ramp,
    or one that repeated measurements confirm. A cast reaches from its peak as far as the hue stays
    within 45° of the peak's; what lies beyond is a cast of its own, unless it is a single tone on
    the way within 90°, which is left with its neighbour.

    Parameters
    ----------
    level
        Shape (n,), monotone: the tones, without paper and black.
    delta_ab
        Shape (n, 2): a*, b* minus the neutral aim's.
    confirmed
        Shape (n,): whether repeats of this tone each show the difference.
    sd_Ch
        Repeatability of a* and b*, a standard deviation.
    shared
        Shape (n, k): by how many of these each tone is off together with the others, for each of k
        causes, as the noise of the paper that the aim follows; none by default.

    Returns
    -------
    The casts, by rising level.

    Examples
    --------
    >>> cast, = find_casts([0.8, 0.6, 0.4], [[0.1, 0], [-1.5, 0.2], [-1.2, 0]], [False] * 3, 0.15)
    >>> cast.hue, cast.from_level, cast.to_level, cast.peak_level
    ('greenish', 0.4, 0.6, 0.6)
    """
    levels = np.asarray(level, dtype=np.float64)
    order = np.argsort(levels)
    levels = levels[order]
    delta = np.asarray(delta_ab, dtype=np.float64)[order]
    sure = np.asarray(confirmed, dtype=np.bool_)[order]
    off = np.zeros((levels.size, 0)) if shared is None else np.asarray(shared, dtype=float)[order]
    delta_Ch, hue = chroma(delta), hue_angle(delta)
    seen = (delta_Ch >= VISIBLE_DELTA_CH) & (delta_Ch > 2 * sd_Ch)
    return tuple(
        _cast(levels, delta_Ch, hue, start, stop)
        for first, last in runs_of(seen)
        for start, stop in _by_hue(delta_Ch, hue, sure, first, last)
        if sure[start:stop].any()
        or (
            stop - start >= 2
            and _is_beyond_noise(delta[start:stop], off[start:stop], sd_Ch, levels.size)
        )
    )


def _is_beyond_noise(delta: Array, shared: Array, sd: float, tones: int) -> bool:
    """Whether noise of neutral tones would hardly make such a run (`FALSE_CASTS` of ramps).

    The sum of k tones' noise has a length beyond z sd √k with probability exp(-z²/2) (Rayleigh);
    what they share adds up as it stands. Of n tones there are n (n - 1) / 2 runs to be misled by
    (Bonferroni).
    """
    runs = max(tones * (tones - 1) / 2, 1)
    z = np.sqrt(2 * np.log(runs / FALSE_CASTS))
    variance = len(delta) + float(np.sum(shared.sum(axis=0) ** 2))
    return bool(chroma(delta.sum(axis=0)) >= z * sd * np.sqrt(variance))


def _counts(sure: Mask, start: int, stop: int) -> bool:
    return stop - start >= 2 or bool(sure[start:stop].any())


def _by_hue(
    delta_Ch: Array, hue: Array, sure: Mask, first: int, last: int
) -> list[tuple[int, int]]:
    """Split a run where its hue is no longer that of its peak."""
    peak = first + int(np.argmax(delta_Ch[first:last]))
    turn = np.abs((hue[first:last] - hue[peak] + 180.0) % 360.0 - 180.0)
    alike = turn <= SECTOR
    start = stop = peak - first
    while start > 0 and alike[start - 1]:
        start -= 1
    while stop < last - first and alike[stop]:
        stop += 1
    start, stop = start + first, stop + first
    # A lone tone of another hue belongs to its neighbours, unless it points the other way.
    if not _counts(sure, first, start) and turn[start - first - 1] <= 2 * SECTOR:
        start = first
    if not _counts(sure, stop, last) and stop < last and turn[stop - first] <= 2 * SECTOR:
        stop = last
    below = _by_hue(delta_Ch, hue, sure, first, start) if start > first else []
    above = _by_hue(delta_Ch, hue, sure, stop, last) if stop < last else []
    return [*below, (start, stop), *above]


def _cast(levels: Array, delta_Ch: Array, hue: Array, start: int, stop: int) -> Cast:
    peak = start + int(np.argmax(delta_Ch[start:stop]))
    return Cast(
        from_level=float(levels[start]),
        to_level=float(levels[stop - 1]),
        hue=hue_name(float(hue[peak])),
        hue_angle=float(hue[peak]),
        peak_delta_Ch=float(delta_Ch[peak]),
        peak_level=float(levels[peak]),
    )


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
