"""Which patches a chart holds: its tones, the near-neutral patches beside them, the repeats."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.charts.patches import (
    DEFAULT_BITS,
    DEFAULT_SPACING,
    MOST_PATCHES,
    SPACINGS,
    Plan,
    greys,
    joined,
    levels_in_words,
    near_neutral_levels,
    near_neutral_patches,
    nudges_for_response,
    spread,
    starting_tones,
    tones_within,
    usual_nudges,
    usual_repeats,
    whole_steps,
    with_repeats,
)
from greyscale.charts.picture_tones import PictureTones, picture_chart_tones
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.readings.reading import ASSUMED_SD, Reading, average_repeats

# Which tones a follow-up chart holds, from what the starting chart measured.

TIE_LEVELS = (0.25, 0.5, 0.75)
"""Levels near which a tone of the first chart is printed again: they tie the sheets together."""

# Below these nothing more is wanted: a bend that could hide less between two measured tones than an
# instrument's noise, and a step of a*, b* smaller than anyone sees.
LEAST_BEND = 0.05
LEAST_DRIFT = 0.5

_LEAST_STEP = 1.9 / 255
"""A new tone lies two codes of 8 bits from any other."""

BEND, DRIFT, UNCERTAIN = "bend", "drift", "uncertain"
_LEAST = {BEND: LEAST_BEND, DRIFT: LEAST_DRIFT, UNCERTAIN: 0.0}


_SENTENCES = {
    BEND: (
        "where the curve bends: {levels} (between measured neighbours a sharp bend could be "
        "missed by up to {most:.2f})"
    ),
    DRIFT: (
        "where drift is fast: {levels} (a*, b* move by up to {most:.2f} between measured "
        "neighbours)"
    ),
    UNCERTAIN: (
        "where the fitted curve is least certain: {levels} (known to ±{most:.2f} there, 95 %)"
    ),
}

_NOTHING_LEFT = {
    BEND: (
        "none for a bend: the curve bends so gently that no more than "
        f"{LEAST_BEND} can be missed between measured neighbours"
    ),
    DRIFT: (
        f"none for drift: a*, b* move by less than {LEAST_DRIFT} between measured neighbours "
        "everywhere"
    ),
}


@dataclass(frozen=True)
class _Choice:
    """A level, what for, and how much it was wanted, in CIELAB units."""

    level: float
    reason: str
    size: float


def follow_up_tones(
    ramp: MeasuredRamp,
    count: int,
    bits: int = DEFAULT_BITS,
    weight: tuple[Array, Array] | None = None,
) -> Plan:
    """Choose the tones of a follow-up chart.

    Paper, black and three tones of the first chart tie the two sheets together. The rest is
    chosen one by one, in turn for each of three reasons: where the curve bends (a sharp bend
    between measured neighbours would be missed by most), where drift is fast (a*, b*
    move most between measured neighbours), where the fitted curve is least certain (its posterior
    standard deviation, those already chosen counted as measured). A reason that has nothing left
    to ask for leaves its turns to the last one. Nothing goes where the printer clips.

    Parameters
    ----------
    bits
        Levels are whole codes of so many bits.
    weight
        Levels and the weight of each, mean about 1: where a picture has its tones.

    Returns
    -------
    `count` patches by rising level, fewer if there are no more codes to choose.
    """
    ties = _ties(ramp, bits)
    choices = _choose(ramp, ties, count - len(ties), bits, weight)
    reasons = {level: "paper and black" if level in (0.0, 1.0) else "tie" for level in ties}
    reasons |= {choice.level: f"{choice.reason}: {_why(choice)}" for choice in choices}
    levels = sorted(reasons)
    patches = greys(levels, [reasons[level] for level in levels])
    return Plan(patches, _explanation(choices, ties, ramp))


def _choose(
    ramp: MeasuredRamp,
    ties: list[float],
    count: int,
    bits: int,
    weight: tuple[Array, Array] | None,
) -> list[_Choice]:
    candidates = np.arange(1, 255) / 255
    inside = (candidates > ramp.clipped_below) & (candidates < ramp.clipped_above)
    candidates = whole_steps(candidates[inside], bits)
    importance = np.ones(candidates.size)
    if weight is not None:
        importance = np.sqrt(np.interp(candidates, weight[0], weight[1]))
    chosen = list(ties)
    choices: list[_Choice] = []
    for turn in range(count):
        known = np.concatenate([ramp.levels, chosen])
        free = np.min(np.abs(candidates[:, np.newaxis] - known), axis=1) > _LEAST_STEP
        if not free.any():
            break
        wanted = _wanted(ramp, candidates, chosen)
        reason = (BEND, DRIFT, UNCERTAIN)[turn % 3]
        if wanted[reason][free].max() < _LEAST[reason]:
            reason = UNCERTAIN
        best = int(np.argmax(np.where(free, wanted[reason] * importance, -1.0)))
        choices.append(_Choice(float(candidates[best]), reason, float(wanted[reason][best])))
        chosen.append(choices[-1].level)
    return choices


def _ties(ramp: MeasuredRamp, bits: int) -> list[float]:
    inner = ramp.levels[(ramp.levels > 0.02) & (ramp.levels < 0.98)]
    ties = {float(inner[np.argmin(np.abs(inner - level))]) for level in TIE_LEVELS}
    return [float(x) for x in np.unique(whole_steps([0.0, *sorted(ties), 1.0], bits))]


def _wanted(ramp: MeasuredRamp, candidates: Array, chosen: list[float]) -> dict[str, Array]:
    """Return how much each candidate is wanted, (k,), by reason, in CIELAB units."""
    known = np.unique(np.concatenate([ramp.levels, chosen]))
    right = np.clip(np.searchsorted(known, candidates), 1, known.size - 1)
    low, high = known[right - 1], known[right]
    # Most wanted half way between the neighbours: 1 there, 0 at them.
    lever = 4 * np.maximum((candidates - low) * (high - candidates), 0.0) / (high - low) ** 2
    # A corner half way between points a step apart, at which the slope changes by t, is rounded
    # off by t · step / 8 when a smooth curve goes through the points.
    bend = ramp.turn(candidates) * (high - low) / 8 * lever
    # The step of a*, b* between the neighbours.
    drift = ramp.drift_speed(candidates) * (high - low) * lever
    return {BEND: bend, DRIFT: drift, UNCERTAIN: ramp.uncertainty(candidates, chosen)}


def _why(choice: _Choice) -> str:
    if choice.reason == BEND:
        return f"a sharp bend could be missed by {choice.size:.2f}"
    if choice.reason == DRIFT:
        return f"a*, b* move by {choice.size:.2f} between neighbours"
    return f"known only to ±{2 * choice.size:.2f}"


def _explanation(choices: list[_Choice], ties: list[float], ramp: MeasuredRamp) -> tuple[str, ...]:
    lines = []
    for reason, sentence in _SENTENCES.items():
        these = [choice for choice in choices if choice.reason == reason]
        if these:
            most = max(choice.size for choice in these) * (2 if reason == UNCERTAIN else 1)
            levels = levels_in_words([choice.level for choice in these])
            lines.append(f"{len(these)} {sentence.format(levels=levels, most=most)}")
        elif reason != UNCERTAIN:
            lines.append(_NOTHING_LEFT[reason])
    tied = levels_in_words(ties)
    lines.append(f"{len(ties)} measured before, to tie the two sheets together: {tied}")
    if ramp.clipped_below > 0:
        lines.append(f"none below {ramp.clipped_below:.2f}, where everything prints like black")
    if ramp.clipped_above < 1:
        lines.append(f"none above {ramp.clipped_above:.2f}, where everything prints like paper")
    return tuple(lines)


DEFAULT_TONES = 33
FOLLOW_UP_TONES = 24
_LEAST_CHOSEN_TONES = 6
_MOST_CHOSEN_TONES = 250
_LEAST_ELSEWHERE = 2


def plan_patches(
    *,
    tones: int | None = None,
    spacing: str | None = None,
    near_neutral: bool = False,
    after: Reading | None = None,
    picture: PictureTones | None = None,
    repeats: int | None = None,
    bits: int = DEFAULT_BITS,
    repeated: int = 0,
) -> Plan:
    """Choose the patches of a chart; arguments as `greyscale.charts.chart.make_chart`.

    Parameters
    ----------
    repeated
        So many of the usual repeats are in its code already.

    Returns
    -------
    The patches, repeats at the end, with the reasons in sentences.

    Raises
    ------
    BadInput
        For options that do not go together, a reading that cannot be followed up, and numbers
        that cannot be.
    """
    ramp = None if after is None else measured_ramp(after)
    plan = _tones(tones, spacing, ramp, picture, bits)
    patches, why = plan.patches, list(plan.why)
    if near_neutral:
        beside = _near_neutral(len(patches), ramp, picture, repeats, bits)
        patches = joined([patches, beside.patches])
        why += beside.why
    # Paper and black also lie elsewhere, to tell whether the page is even.
    usual = max(usual_repeats(len(patches)) - repeated, _LEAST_ELSEWHERE)
    again = usual if repeats is None else repeats
    patches = with_repeats(patches, again)
    return Plan(patches, tuple(why))


def tones_in_words(spacing: str | None, after: Reading | None, picture: PictureTones | None) -> str:
    """Say in a few words how a chart's tones were chosen, for its caption."""
    if after is None and picture is None:
        return SPACINGS[spacing or DEFAULT_SPACING]
    words = [] if after is None else [f"after {after.name}"]
    if picture is not None:
        words.append(f"for {Path(picture.source).name}")
    return " ".join(words)


def _tones(
    count: int | None,
    spacing: str | None,
    ramp: MeasuredRamp | None,
    picture: PictureTones | None,
    bits: int,
) -> Plan:
    usual = DEFAULT_TONES if ramp is None else FOLLOW_UP_TONES
    wanted = usual if count is None else count
    if ramp is None and picture is None:
        chosen = spacing or DEFAULT_SPACING
        why = f"{wanted} tones {SPACINGS[chosen]}, paper and black among them"
        return Plan(starting_tones(wanted, chosen, bits), (why,))
    if spacing is not None:
        raise BadInput(
            "the spacing belongs to a starting chart; a chart after a reading or for a picture "
            "finds its own. Leave it out"
        )
    if not _LEAST_CHOSEN_TONES <= wanted <= _MOST_CHOSEN_TONES:
        raise BadInput(
            f"{wanted} tones are not possible; a chart after a reading or for a picture has "
            f"{_LEAST_CHOSEN_TONES} to {_MOST_CHOSEN_TONES}"
        )
    if ramp is not None:
        weight = None if picture is None else (picture.levels, picture.weight)
        plan = follow_up_tones(ramp, wanted, bits, weight)
        more = () if picture is None else ("all weighted by where the picture has its tones",)
        return Plan(plan.patches, (*plan.why, *more))
    assert picture is not None
    return picture_chart_tones(picture, wanted, bits)


def _near_neutral(
    tones: int,
    ramp: MeasuredRamp | None,
    picture: PictureTones | None,
    repeats: int | None,
    bits: int,
) -> Plan:
    """Choose as many near-neutral patches as the chart's usual size leaves room for."""
    again = (
        usual_repeats(MOST_PATCHES - usual_repeats(MOST_PATCHES)) if repeats is None else repeats
    )
    count = tones_within(MOST_PATCHES - tones - again)
    if picture is None:
        levels = near_neutral_levels(count, between=ramp is not None)
    else:
        levels = spread(count + 2, picture.density, picture.levels)[1:-1]
    nudges = usual_nudges(levels)
    sized = "by 0.16 of full scale at two tones, 0.08 at the next two, less near paper"
    if ramp is not None:
        levels = np.unique(np.clip(levels, ramp.clipped_below, ramp.clipped_above))
        nudges = usual_nudges(levels)
        if ramp.response.size:
            nudges = nudges_for_response(levels, ramp.near_neutral_levels, ramp.response)
            sized = "by as much as the measured answer asks for"
    patches = near_neutral_patches(levels, nudges, bits)
    why = (
        f"{len(patches)} near-neutral patches round {len(levels)} tones from "
        f"{levels[0]:.2f} to {levels[-1]:.2f}: at every other tone one channel at a time, in "
        f"between two against each other, moved {sized}"
    )
    return Plan(patches, (why,))


# What a reading tells about the tones of its printer: smooth curves, and where it says nothing.

# A smooth curve through a measured ramp, and how uncertain it is at every level.

_LEAST_SD = 0.01
"""Noise is held to be at least this (CIELAB units): instruments show two decimals."""

# Range of log10 of the curve's variance in which the likelihood is searched: from a straight
# line to a curve that turns in every step.
_LOG_VARIANCE = (-4.0, 9.0)


@dataclass(frozen=True, eq=False)
class FittedCurve:
    """A cubic smoothing spline with its posterior, the noise being known.

    The curve is held to be a straight line of any slope plus a once integrated Wiener process.
    Its posterior mean is the cubic smoothing spline, and its posterior variance the uncertainty
    (Wahba, 1983, Bayesian "confidence intervals" for the cross-validated smoothing spline,
    Journal of the Royal Statistical Society B 45). How much it may bend is chosen by restricted
    maximum likelihood.

    Attributes
    ----------
    levels
        Shape (n,), distinct: where it was measured.
    noise_variance
        Shape (n,): variance of each measured value.
    bend_variance
        Variance of the Wiener process: how much the curve bends.
    """

    levels: Array
    noise_variance: Array
    bend_variance: float
    _weights: Array
    _line: Array

    def mean(self, at: ArrayLike) -> Array:
        """Return the curve, shape of `at`."""
        x = np.asarray(at, dtype=np.float64)
        return _basis(x) @ self._line + self.bend_variance * _kernel(x, self.levels) @ self._weights

    def slope(self, at: ArrayLike) -> Array:
        """Return its first derivative."""
        x, y = np.asarray(at, dtype=np.float64)[:, np.newaxis], self.levels
        derivative = np.where(x < y, x * y - x**2 / 2, y**2 / 2)
        return np.asarray(self._line[1] + self.bend_variance * derivative @ self._weights)

    def sd(self, at: ArrayLike, more_levels: ArrayLike = (), more_variance: float = 0.0) -> Array:
        """Return the curve's standard deviation.

        Parameters
        ----------
        at
            Shape (k,).
        more_levels
            Shape (m,): levels held to be measured too; what they measure does not matter.
        more_variance
            Noise variance of those.
        """
        x = np.asarray(at, dtype=np.float64)
        more = np.asarray(more_levels, dtype=np.float64).reshape(-1)
        levels = np.concatenate([self.levels, more])
        noise = np.concatenate([self.noise_variance, np.full(more.size, more_variance)])
        covariance = self.bend_variance * _kernel(levels, levels) + np.diag(noise)
        basis = _basis(levels)
        across = self.bend_variance * _kernel(x, levels)
        solved = np.linalg.solve(covariance, np.column_stack([basis, across.T]))
        line_precision = basis.T @ solved[:, :2]
        remainder = _basis(x) - across @ solved[:, :2]
        variance = (
            self.bend_variance * (x**3 / 3)
            - np.einsum("ij,ji->i", across, solved[:, 2:])
            + np.einsum("ij,ji->i", remainder, np.linalg.solve(line_precision, remainder.T))
        )
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))


def fit_curve(levels: ArrayLike, values: ArrayLike, sd: ArrayLike) -> FittedCurve:
    """Fit a smooth curve.

    Parameters
    ----------
    levels, values
        Shape (n,), n at least 4, levels distinct.
    sd
        Standard deviation of the values' noise, one or (n,).

    Examples
    --------
    >>> x = np.linspace(0, 1, 9)
    >>> fit_curve(x, 20 + 75 * x, 0.1).mean([0.3]).round(3).tolist()
    [42.5]
    """
    from scipy.optimize import minimize_scalar

    x = np.asarray(levels, dtype=np.float64)
    y = np.asarray(values, dtype=np.float64)
    noise = np.broadcast_to(np.maximum(np.asarray(sd, dtype=float), _LEAST_SD) ** 2, x.shape)
    found = minimize_scalar(
        lambda power: _misfit(10.0**power, x, y, noise), bounds=_LOG_VARIANCE, method="bounded"
    )
    variance = float(10.0**found.x)
    weights, line = _posterior(variance, x, y, noise)
    return FittedCurve(x, np.asarray(noise), variance, weights, line)


def _kernel(x: Array, y: Array) -> Array:
    """Return the covariance of the integrated Wiener process, shape (len(x), len(y))."""
    low = np.minimum(x[:, np.newaxis], y)
    return np.asarray(low**3 / 3 + np.abs(x[:, np.newaxis] - y) * low**2 / 2)


def _basis(x: Array) -> Array:
    return np.column_stack([np.ones_like(x), x])


def _posterior(variance: float, x: Array, y: Array, noise: Array) -> tuple[Array, Array]:
    covariance = variance * _kernel(x, x) + np.diag(noise)
    basis = _basis(x)
    solved = np.linalg.solve(covariance, np.column_stack([basis, y]))
    line = np.linalg.solve(basis.T @ solved[:, :2], basis.T @ solved[:, 2])
    return solved[:, 2] - solved[:, :2] @ line, line


def _misfit(variance: float, x: Array, y: Array, noise: Array) -> float:
    """Return minus the restricted log likelihood, but for a constant."""
    covariance = variance * _kernel(x, x) + np.diag(noise)
    basis = _basis(x)
    weights, _ = _posterior(variance, x, y, noise)
    _, size = np.linalg.slogdet(covariance)
    _, line_size = np.linalg.slogdet(basis.T @ np.linalg.solve(covariance, basis))
    return float(0.5 * (size + line_size + y @ weights))


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

    def turn(self, at: ArrayLike) -> Array:
        """Return how much the slope changes about each level, CIELAB per unit of level, shape (k,).

        A smooth curve through measured tones spreads a sharp bend over about three of their
        steps, so that is how far on both sides together the slopes are compared.
        """
        x = np.asarray(at, dtype=np.float64)
        reach = 1.5 * float(np.median(np.diff(self.levels)))
        before, after = np.maximum(x - reach, 0.0), np.minimum(x + reach, 1.0)
        turns = [curve.slope(after) - curve.slope(before) for curve in self.curves]
        return np.asarray(np.linalg.norm(turns, axis=0))

    def drift_speed(self, at: ArrayLike) -> Array:
        """Return how fast a*, b* move with the level, shape (k,)."""
        return np.asarray(np.linalg.norm([curve.slope(at) for curve in self.curves[1:]], axis=0))

    def uncertainty(self, at: ArrayLike, more_levels: ArrayLike = ()) -> Array:
        """The standard deviation of L*, a*, b* together, with more levels measured or not."""
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
    # Where the tone alone was read, or rounded, repeats may not differ at all.
    sd = (max(sd[0], _LEAST_SD), max(sd[1], _LEAST_SD))
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
