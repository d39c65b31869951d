"""What a reading tells about the tones of its printer: smooth curves, and where it says nothing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.charts.fitted_curve import FittedCurve, fit_curve
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.readings.reading import Reading
from greyscale.readings.repeats import ASSUMED_SD, average_repeats

LEAST_TONES = 5
CLIPPED_L = 0.5
"""Tones whose L* stays this close to black's, or to paper's, print alike (CIELAB units)."""

CLIPPED_SHARE = 0.4
"""A printer that prints this share of the levels alike is not ready for a follow-up chart."""


@dataclass(frozen=True, eq=False)
class MeasuredRamp:
    """A ramp as it was measured, with smooth curves through it.

    Attributes
    ----------
    levels
        Shape (n,), rising, each once.
    lab
        Shape (n, 3): repeats averaged.
    curves
        Of L*, a*, b* by level.
    sd
        Standard deviation of one measurement's L*, and of its a* and b*.
    clipped_below, clipped_above
        Up to which level everything prints like black, and from which like paper.
    near_neutral_levels, response
        Shape (m,): ΔCh per unit of one channel's nudge, where near-neutral patches tell.
    """

    levels: Array
    lab: Array
    curves: tuple[FittedCurve, FittedCurve, FittedCurve]
    sd: tuple[float, float]
    clipped_below: float
    clipped_above: float
    near_neutral_levels: Array
    response: Array

    def mean(self, at: ArrayLike) -> Array:
        """Give L*, a*, b* of the curves, shape (k, 3)."""
        return np.stack([curve.mean(at) for curve in self.curves], axis=-1)

    def turn(self, at: ArrayLike) -> Array:
        """Give how much the slope changes about each level, CIELAB per unit of level, shape (k,).

        A smooth curve through measured tones spreads a sharp bend over about three of their
        steps, so that is how far on both sides together the slopes are compared.
        """
        x = np.asarray(at, dtype=np.float64)
        reach = 1.5 * float(np.median(np.diff(self.levels)))
        before, after = np.maximum(x - reach, 0.0), np.minimum(x + reach, 1.0)
        turns = [curve.slope(after) - curve.slope(before) for curve in self.curves]
        return np.asarray(np.linalg.norm(turns, axis=0))

    def drift_speed(self, at: ArrayLike) -> Array:
        """Give how fast a*, b* move with the level, shape (k,)."""
        return np.asarray(np.linalg.norm([curve.slope(at) for curve in self.curves[1:]], axis=0))

    def uncertainty(self, at: ArrayLike, more_levels: ArrayLike = ()) -> Array:
        """Give the standard deviation of L*, a*, b* together, with more levels measured or not."""
        noise = (self.sd[0], self.sd[1], self.sd[1])
        each = [
            curve.sd(at, more_levels, sd**2) for curve, sd in zip(self.curves, noise, strict=True)
        ]
        return np.asarray(np.linalg.norm(each, axis=0))


def measured_ramp(reading: Reading) -> MeasuredRamp:
    """Fit the ramp of a reading.

    Raises
    ------
    BadInput
        If there are fewer than five tones, they do not reach from black to paper, L* does not
        rise from black to paper, or a large share of the levels prints alike.
    """
    averaged = average_repeats(reading)
    whole = averaged.reading
    ramp = np.flatnonzero(whole.on_axis)
    ramp = ramp[np.argsort(whole.level[ramp])]
    levels, lab = whole.level[ramp], whole.lab[ramp]
    _check_ramp(levels, lab, reading.source)

    known = averaged.repeatability
    sd = (known.sd_L, known.sd_Ch) if known.known else (ASSUMED_SD, ASSUMED_SD)
    root = np.sqrt(averaged.counts[ramp])
    curve_L, curve_a, curve_b = (
        fit_curve(levels, lab[:, i], each / root) for i, each in enumerate((sd[0], sd[1], sd[1]))
    )
    below, above = _clipped(levels, lab, sd[0])
    _check_clipping(below, above, lab, reading.source)
    curves = (curve_L, curve_a, curve_b)
    answered, response = _response(whole, curves)
    return MeasuredRamp(levels, lab, curves, sd, below, above, answered, response)


def _check_ramp(levels: Array, lab: Array, source: str) -> None:
    if levels.size < LEAST_TONES:
        raise BadInput(
            f"{levels.size} tones of the grey axis are too few to plan a follow-up chart; "
            f"measure a chart of at least {LEAST_TONES} tones first",
            source,
        )
    if levels[0] > 0.02 or levels[-1] < 0.98:
        raise BadInput(
            f"the tones reach from level {levels[0]:.2f} to {levels[-1]:.2f} only; a follow-up "
            "chart needs a reading with black (0) and paper (1)",
            source,
        )
    # Kendall's sense: how many pairs of tones stand the right way round.
    rises = np.sign(lab[:, np.newaxis, 0] - lab[np.newaxis, :, 0])
    right = rises[np.tril_indices(levels.size, -1)].mean()
    if lab[-1, 0] <= lab[0, 0] or right < 0.5:
        raise BadInput(
            f"L* does not rise from black ({lab[0, 0]:.1f}) to paper ({lab[-1, 0]:.1f}); the "
            "layout may not be this reading's: run the check on it first",
            source,
        )


def _clipped(levels: Array, lab: Array, sd: float) -> tuple[float, float]:
    """Say up to which level everything prints like black, and from which like paper."""
    alike = max(CLIPPED_L, 3 * np.sqrt(2) * sd)
    L = lab[:, 0]
    unlike_black = np.flatnonzero(np.abs(L - L[0]) > alike)
    unlike_paper = np.flatnonzero(np.abs(L - L[-1]) > alike)
    return float(levels[unlike_black[0] - 1]), float(levels[unlike_paper[-1] + 1])


def _check_clipping(below: float, above: float, lab: Array, source: str) -> None:
    lost = below + (1.0 - above)
    if lost < CLIPPED_SHARE:
        return
    parts = []
    if below > 0:
        parts.append(f"levels 0 to {below:.2f} all print like black (L* {lab[0, 0]:.1f})")
    if above < 1:
        parts.append(f"levels {above:.2f} to 1 all print like paper (L* {lab[-1, 0]:.1f})")
    raise BadInput(
        f"{' and '.join(parts)}: {100 * lost:.0f} % of the tones are clipped. More patches "
        "cannot help; look at the paper setting, the ink limit and the colour management of the "
        "print, and print the starting chart again",
        source,
    )


def _response(
    whole: Reading, curves: tuple[FittedCurve, FittedCurve, FittedCurve]
) -> tuple[Array, Array]:
    """Say how far a*, b* moved per unit of a single channel, for each near-neutral patch."""
    beside = np.flatnonzero(~whole.on_axis)
    if beside.size == 0:
        return np.empty(0), np.empty(0)
    device, level = whole.device[beside], whole.level[beside]
    on_axis = np.stack([curve.mean(level) for curve in curves[1:]], axis=-1)
    moved = np.linalg.norm(whole.lab[beside, 1:] - on_axis, axis=1)
    # One channel nudged by 1 lies sqrt(2/3) off the axis.
    nudge = np.linalg.norm(device - level[:, np.newaxis], axis=1) / np.sqrt(2 / 3)
    near = nudge < 0.4
    order = np.argsort(level[near])
    levels, response = level[near][order], (moved / nudge)[near][order]
    if levels.size < 12:
        return np.empty(0), np.empty(0)
    # Answers differ with the channel, so they are pooled by twelves along the ramp.
    pools = np.array_split(np.arange(levels.size), max(1, levels.size // 12))
    return (
        np.array([levels[pool].mean() for pool in pools]),
        np.array([np.median(response[pool]) for pool in pools]),
    )
