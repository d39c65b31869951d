"""Which tones a follow-up chart holds, from what the starting chart measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.charts.measured_ramp import MeasuredRamp
from greyscale.charts.patches import DEFAULT_BITS, PatchList, greys, whole_steps
from greyscale.colorimetry.arrays import Array, ArrayLike

TIE_LEVELS = (0.25, 0.5, 0.75)
"""Levels near which a tone of the first chart is printed again: they tie the sheets together."""

# Below these a wish is met: a bend that a straight line between measured neighbours follows to a
# fraction of an instrument's noise (the smooth curve rounds a sharp bend off, so this is on the
# safe side), and a step of a*, b* smaller than anyone sees.
LEAST_BEND = 0.03
LEAST_DRIFT = 0.5

_LEAST_STEP = 1.9 / 255
"""A new tone lies two codes of 8 bits from any other."""

BEND, DRIFT, UNCERTAIN = "bend", "drift", "uncertain"


@dataclass(frozen=True, eq=False)
class _Wishes:
    """How much each candidate level is wanted, by reason, in CIELAB units."""

    bend: Array
    drift: Array
    uncertain: Array

    def of(self, reason: str) -> Array:
        return {BEND: self.bend, DRIFT: self.drift, UNCERTAIN: self.uncertain}[reason]


def follow_up_tones(
    ramp: MeasuredRamp,
    count: int,
    bits: int = DEFAULT_BITS,
    weight: tuple[ArrayLike, ArrayLike] | None = None,
) -> PatchList:
    """Choose the tones of a follow-up chart.

    Paper, black and three tones of the first chart tie the two sheets together. The rest is
    chosen one by one, in turn for each of three reasons: where the curve bends (a straight line
    between measured neighbours would miss the fitted curve by most), where drift is fast (a*, b*
    move most between measured neighbours), where the fitted curve is least certain (its posterior
    standard deviation, those already chosen counted as measured). A reason that has nothing left
    to ask for leaves its turns to the last one. Nothing goes where the printer clips.

    Parameters
    ----------
    ramp
        What was measured.
    count
        How many tones.
    bits
        Levels are whole codes of so many bits.
    weight
        Levels and the weight of each, mean about 1: where a picture has its tones.

    Returns
    -------
    `count` patches by rising level, fewer if there are no more codes to choose.
    """
    chosen = _ties(ramp, bits)
    reasons = ["paper and black" if level in (0.0, 1.0) else "tie" for level in chosen]
    candidates = np.arange(1, 255) / 255
    inside = (candidates > ramp.clipped_below) & (candidates < ramp.clipped_above)
    candidates = whole_steps(candidates[inside], bits)
    importance = np.ones(candidates.size)
    if weight is not None:
        importance = np.sqrt(np.interp(candidates, *map(np.asarray, weight)))

    for turn in range(count - len(chosen)):
        known = np.concatenate([ramp.levels, chosen])
        free = np.min(np.abs(candidates[:, np.newaxis] - known), axis=1) > _LEAST_STEP
        if not free.any():
            break
        wishes = _wishes(ramp, candidates, chosen)
        reason = _whose_turn(turn, wishes, free)
        best = int(np.argmax(np.where(free, wishes.of(reason) * importance, -1.0)))
        reasons.append(f"{reason}: {_why(reason, float(wishes.of(reason)[best]))}")
        chosen.append(float(candidates[best]))
    order = np.argsort(chosen)
    return greys([chosen[i] for i in order], [reasons[i] for i in order])


def _ties(ramp: MeasuredRamp, bits: int) -> list[float]:
    inner = ramp.levels[(ramp.levels > 0.02) & (ramp.levels < 0.98)]
    ties = {float(inner[np.argmin(np.abs(inner - level))]) for level in TIE_LEVELS}
    return [float(x) for x in np.unique(whole_steps([0.0, *sorted(ties), 1.0], bits))]


def _wishes(ramp: MeasuredRamp, candidates: Array, chosen: list[float]) -> _Wishes:
    known = np.unique(np.concatenate([ramp.levels, chosen]))
    right = np.clip(np.searchsorted(known, candidates), 1, known.size - 1)
    low, high = known[right - 1], known[right]
    # A straight line between neighbours misses a curve of second derivative f'' by
    # f'' (x - low)(high - x) / 2.
    lever = np.maximum((candidates - low) * (high - candidates), 0.0)
    bend = ramp.bend(candidates) * lever / 2
    # The whole step of a*, b* between the neighbours, most wanted half way.
    drift = ramp.drift_speed(candidates) * 4 * lever / (high - low)
    return _Wishes(bend, drift, ramp.uncertainty(candidates, chosen))


def _whose_turn(turn: int, wishes: _Wishes, free: Array) -> str:
    reason = (BEND, DRIFT, UNCERTAIN)[turn % 3]
    if reason == BEND and wishes.bend[free].max() < LEAST_BEND:
        return UNCERTAIN
    if reason == DRIFT and wishes.drift[free].max() < LEAST_DRIFT:
        return UNCERTAIN
    return reason


def _why(reason: str, size: float) -> str:
    if reason == BEND:
        return f"a straight line would miss by {size:.2f}"
    if reason == DRIFT:
        return f"a*, b* move by {size:.2f} between neighbours"
    return f"known to ±{2 * size:.2f} only"
