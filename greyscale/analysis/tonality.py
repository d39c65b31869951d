"""Is the tone scale as wanted: L* against its aim, reversals, distinct ends, smoothness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.aims.tolerances import DEFAULT_TOLERANCE, Tolerance, tolerance
from greyscale.aims.tone import DEFAULT_SCALING, DEFAULT_TONE_AIM, ToneAim, tone_aim
from greyscale.analysis.certainty import (
    credible_drifts,
    noise_of,
    student_quantile,
    thinned,
    verdict_of,
)
from greyscale.analysis.ramp import Ramp
from greyscale.base.plain_text import decimals_beside
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import mean_over_lightness, means_over_lightness
from greyscale.readings.reading import ASSUMED_SD

ONE_RAMP_IN = 0.01
"""Share of ramps without a reversal that noise may give one."""

_USUAL_FREEDOM = 4.0
"""As so many repeats counts what is assumed of an instrument; common practice, no source."""

DISTINCT = 1.0
"""A tone this far in L* from black (or paper) is told from it."""


@dataclass(frozen=True)
class Tonality:
    """The tone scale of a ramp.

    Attributes
    ----------
    aim, scaling
        The tone aim, and how it is fitted between the print's own black and paper.
    rms_delta_L
        Root of the mean over L* of the squared error, L* units; paper and black left out.
    max_delta_L, max_at_level
        The largest error in size, L* units, and where.
    reversals
        Levels whose L* is lower, beyond the repeatability, than that of the next lower level;
        rising.
    density_range
        Visual density of black above that of paper.
    density_source
        "spectra" (ISO 5-3 visual density), or "L*" (−log10(Y/100)) where there are none.
    distinct_shadow_level
        The lowest level from which on every tone is one unit of L* or more above black,
        interpolated; None if there is none.
    distinct_highlight_level
        The highest level up to which every tone is one unit or more below paper; or None.
    smoothness
        How bumpy the error is: root mean square of how far each inner tone's L* error lies from
        the straight line (by level) through its two neighbours' errors, L* units. 0 is smooth;
        noise of sd s alone gives about 1.2 s. None for a ramp of fewer than four patches.
    mean_delta_L
        Mean over L* of the error's size.
    tolerance, tolerance_mean_delta_L, tolerance_max_delta_L, tolerance_shadow_level
        The grade judged by, and its limits.
    verdict
        "pass", "fail" or "cannot be told".
    probability
        That the tone scale passes, the reading's noise allowed for.
    """

    aim: str
    scaling: str
    rms_delta_L: float
    max_delta_L: float
    max_at_level: float
    reversals: tuple[float, ...]
    density_range: float
    density_source: str
    distinct_shadow_level: float | None
    distinct_highlight_level: float | None
    smoothness: float | None
    mean_delta_L: float
    tolerance: str
    tolerance_mean_delta_L: float
    tolerance_max_delta_L: float
    tolerance_shadow_level: float
    verdict: str
    probability: float

    @property
    def faults(self) -> tuple[str, ...]:
        """Why the tone scale is outside its grade, as measured: short phrases."""
        found = []
        for name, value, limit in (
            ("mean", self.mean_delta_L, self.tolerance_mean_delta_L),
            ("max", self.max_delta_L, self.tolerance_max_delta_L),
        ):
            if value > limit:
                found.append(f"{name} ΔL* {_beside(value, limit, 1)} ({limit:g} allowed)")
        if self.reversals:
            found.append("a reversal")
        level = self.distinct_shadow_level
        if level is None or level > self.tolerance_shadow_level:
            limit = self.tolerance_shadow_level
            begins = "nowhere" if level is None else f"from level {_beside(level, limit, 2)}"
            found.append(f"shadows are distinct from black {begins} ({limit:g} allowed)")
        return tuple(found)


def _beside(value: float, limit: float, decimals: int) -> str:
    return f"{value:.{decimals_beside(value, limit, decimals)}f}"


def aim_lightness(ramp: Ramp, aim: str | ToneAim, scaling: str = DEFAULT_SCALING) -> Array:
    """Return the L* aimed at for each patch of a ramp, shape (n,)."""
    L = ramp.lab()[:, 0]
    return tone_aim(aim).target(
        ramp.level, float(L[ramp.black_index]), float(L[ramp.paper_index]), scaling
    )


def assess_tonality(
    ramp: Ramp,
    aim: str | ToneAim = DEFAULT_TONE_AIM,
    scaling: str = DEFAULT_SCALING,
    grade: str | Tolerance = DEFAULT_TOLERANCE,
) -> Tonality:
    """Compare a ramp's L* with a tone aim, and judge it by a tolerance grade."""
    limits = tolerance(grade)
    level, L = ramp.level, ramp.lab()[:, 0]
    error = L - aim_lightness(ramp, aim, scaling)
    tones = ramp.is_tone
    size = np.abs(error)
    worst = np.flatnonzero(tones)[np.argmax(size[tones])]
    density = ramp.reading.density
    reversals = _reversals(ramp)
    # A reversal that is claimed is there in all but one ramp of a hundred.
    passing = ONE_RAMP_IN if reversals else _passing(ramp, aim, scaling, error, limits)
    return Tonality(
        aim=tone_aim(aim).name,
        scaling=scaling,
        rms_delta_L=float(np.sqrt(mean_over_lightness(error[tones] ** 2, L[tones]))),
        max_delta_L=float(size[worst]),
        max_at_level=float(level[worst]),
        reversals=reversals,
        density_range=float(density[ramp.black_index] - density[ramp.paper_index]),
        density_source="spectra" if ramp.reading.spectral else "L*",
        distinct_shadow_level=distinct_shadow(ramp),
        distinct_highlight_level=_distinct(level, L[ramp.paper_index] - L),
        smoothness=_smoothness(level, error),
        mean_delta_L=mean_over_lightness(size[tones], L[tones]),
        tolerance=limits.name,
        tolerance_mean_delta_L=limits.mean_delta_L,
        tolerance_max_delta_L=limits.max_delta_L,
        tolerance_shadow_level=limits.shadow_level,
        verdict=verdict_of(passing),
        probability=passing,
    )


def distinct_shadow(ramp: Ramp) -> float | None:
    """The level from which on a ramp's tones are distinct from its black; None if none is."""
    L = ramp.lab()[:, 0]
    return _distinct(ramp.level[::-1], L[::-1] - L[ramp.black_index])


def _noise(ramp: Ramp) -> tuple[float, float]:
    """The noise of one L*, and from how many independent numbers it is known.

    Few repeats may agree or differ by chance: what is usual counts beside them. Where nothing was
    repeated, it is as that of a*, b* along the ramp.
    """
    repeats, tones = ramp.repeatability, ramp.is_tone
    if not repeats.known:
        ab = ramp.lab()[tones, 1:]
        return noise_of(ramp.level[tones], ab, ramp.counts[tones], repeats.sd_L, 0), 1e9
    own = float(repeats.measurements - repeats.repeated)
    freedom = own + _USUAL_FREEDOM
    pooled = own * repeats.sd_L**2 + _USUAL_FREEDOM * ASSUMED_SD**2
    return float(np.sqrt(pooled / freedom)), freedom


def _passing(
    ramp: Ramp, aim: str | ToneAim, scaling: str, error: Array, limits: Tolerance
) -> float:
    """Compute the probability that the tone scale keeps the limits, whatever noise made of it."""
    lab, (noise, _) = ramp.lab(), _noise(ramp)
    tones = np.flatnonzero(ramp.is_tone)
    tones = tones[thinned(tones.size)]
    black = noise / np.sqrt(ramp.counts[ramp.black_index])
    moved = [_moved(ramp, aim, scaling, index) for index in (ramp.paper_index, ramp.black_index)]
    drawn = credible_drifts(
        ramp.level[tones],
        error[tones, np.newaxis],
        noise / np.sqrt(ramp.counts[tones]),
        noise * np.stack(moved, axis=1)[tones],
    )[..., 0]
    size = np.abs(drawn)
    L = np.broadcast_to(lab[tones, 0], drawn.shape)
    keeps = means_over_lightness(size, L) <= limits.mean_delta_L
    keeps &= size.max(axis=1) <= limits.max_delta_L
    # Above black, whose own noise is on every distance; from black upwards.
    random = np.random.default_rng(1)
    above = lab[tones, 0] - error[tones] + drawn - lab[ramp.black_index, 0]
    above = (above - random.normal(0.0, black, (len(drawn), 1)))[:, ::-1]
    level = np.append(0.0, ramp.level[tones][::-1])
    above = np.column_stack([np.zeros(len(drawn)), above])
    right = min(max(int(np.searchsorted(level, limits.shadow_level)), 1), level.size - 1)
    share = (limits.shadow_level - level[right - 1]) / (level[right] - level[right - 1])
    at = above[:, right - 1] + min(share, 1.0) * (above[:, right] - above[:, right - 1])
    parts = (above[:, level >= limits.shadow_level] >= DISTINCT).all(axis=1) & (at >= DISTINCT)
    return float(np.mean(keeps & parts))


def _moved(ramp: Ramp, aim: str | ToneAim, scaling: str, end: int) -> Array:
    """How far the aim moves for a paper or black that is off by one L*, as that was measured."""
    L, target = ramp.lab()[:, 0], tone_aim(aim).target
    black, paper = float(L[ramp.black_index]), float(L[ramp.paper_index])
    off = (black + (end == ramp.black_index), paper + (end == ramp.paper_index))
    moved = target(ramp.level, *off, scaling=scaling) - target(ramp.level, black, paper, scaling)
    return np.asarray(moved / np.sqrt(ramp.counts[end]))


def _reversals(ramp: Ramp) -> tuple[float, ...]:
    level, L = ramp.level[::-1], ramp.lab()[::-1, 0]
    counts, (noise, freedom) = ramp.counts[::-1], _noise(ramp)
    # Of so many steps that are none, one in a hundred ramps may claim one (Bonferroni); how well
    # the noise is known counts in (Student's t).
    sure = student_quantile(freedom, 1.0 - ONE_RAMP_IN / (len(L) - 1))
    allowed = sure * noise * np.sqrt(1 / counts[1:] + 1 / counts[:-1])
    return tuple(float(v) for v in level[1:][np.diff(L) < -allowed])


def _distinct(level: Array, distance: Array) -> float | None:
    """Return the level at which the distance from the first end passes one unit for good."""
    near = np.flatnonzero(distance < DISTINCT)
    if near.size == 0:
        return float(level[0])
    last = int(near[-1])
    if last + 1 == len(level):
        return None
    share = (DISTINCT - distance[last]) / (distance[last + 1] - distance[last])
    return float(level[last] + share * (level[last + 1] - level[last]))


def _smoothness(level: Array, error: Array) -> float | None:
    if len(level) < 4:
        return None
    share = (level[1:-1] - level[:-2]) / (level[2:] - level[:-2])
    between = error[:-2] + share * (error[2:] - error[:-2])
    return float(np.sqrt(np.mean((error[1:-1] - between) ** 2)))
