"""Is the tone scale as wanted: L* against its aim, reversals, distinct ends, smoothness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.aims.tone import DEFAULT_SCALING, DEFAULT_TONE_AIM, ToneAim, tone_aim
from greyscale.analysis.neutrality import mean_over_lightness
from greyscale.analysis.ramp import Ramp
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.density import density_from_lightness, visual_density

ONE_RAMP_IN = 0.01
"""Share of ramps without a reversal that noise may give one."""

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


def aim_lightness(ramp: Ramp, aim: str | ToneAim, scaling: str = DEFAULT_SCALING) -> Array:
    """Give the L* aimed at for each patch of a ramp, shape (n,)."""
    L = ramp.lab()[:, 0]
    return tone_aim(aim).target(
        ramp.level, float(L[ramp.black_index]), float(L[ramp.paper_index]), scaling
    )


def ramp_density(ramp: Ramp) -> Array:
    """Give visual density relative to the perfect diffuser, shape (n,); from L* without spectra."""
    spectra, wavelengths = ramp.reading.spectra, ramp.reading.wavelengths
    if spectra is None or wavelengths is None:
        return density_from_lightness(ramp.lab()[:, 0])
    return visual_density(spectra, wavelengths)


def assess_tonality(
    ramp: Ramp, aim: str | ToneAim = DEFAULT_TONE_AIM, scaling: str = DEFAULT_SCALING
) -> Tonality:
    """Compare a ramp's L* with a tone aim."""
    level, L = ramp.level, ramp.lab()[:, 0]
    error = L - aim_lightness(ramp, aim, scaling)
    tones = ramp.is_tone
    size = np.abs(error)
    worst = np.flatnonzero(tones)[np.argmax(size[tones])]
    density = ramp_density(ramp)
    return Tonality(
        aim=tone_aim(aim).name,
        scaling=scaling,
        rms_delta_L=float(np.sqrt(mean_over_lightness(error[tones] ** 2, L[tones]))),
        max_delta_L=float(size[worst]),
        max_at_level=float(level[worst]),
        reversals=_reversals(ramp),
        density_range=float(density[ramp.black_index] - density[ramp.paper_index]),
        density_source="spectra" if ramp.reading.spectral else "L*",
        distinct_shadow_level=_distinct(level[::-1], L[::-1] - L[ramp.black_index]),
        distinct_highlight_level=_distinct(level, L[ramp.paper_index] - L),
        smoothness=_smoothness(level, error),
    )


def _reversals(ramp: Ramp) -> tuple[float, ...]:
    from scipy.special import stdtrit

    level, L = ramp.level[::-1], ramp.lab()[::-1, 0]
    counts, repeats = ramp.counts[::-1], ramp.repeatability
    # Of so many steps that are none, one in a hundred ramps may claim one (Bonferroni); how well
    # the noise is known counts in (Student's t).
    freedom = repeats.measurements - repeats.repeated if repeats.known else 1e9
    sure = float(stdtrit(freedom, 1.0 - ONE_RAMP_IN / (len(L) - 1)))
    allowed = sure * repeats.sd_L * np.sqrt(1 / counts[1:] + 1 / counts[:-1])
    return tuple(float(v) for v in level[1:][np.diff(L) < -allowed])


def _distinct(level: Array, distance: Array) -> float | None:
    """Give the level at which the distance from the first end passes one unit for good."""
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
