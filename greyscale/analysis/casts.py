"""Where along a ramp a cast can be seen, and what hue it has."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from greyscale.analysis.certainty import FAIL, PASS, verdict_of
from greyscale.colorimetry.arrays import Array, ArrayLike, Mask, runs_of
from greyscale.colorimetry.cielab import chroma, hue_angle

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
