"""What to send so that each tone prints as aimed: the model turned round, within its limits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.colorimetry.arrays import Array, Indices, Mask, equal_channels
from greyscale.printer.answers import TONES
from greyscale.printer.model import PrinterModel

TONE_WEIGHT = 1.5
"""Where not all of the aim can be had, a small error of L* counts like 1.5 times as much ΔCh ..."""

TONE_ERROR = 0.3
"""... and more and more from this error on: tones must stay apart, though their tint stay. Next to
black and to paper hardly any L* is given away."""

_JOIN = 0.04  # Levels over which the weight of L* comes down to that, from black and from paper.
_STEPS = 25
_STEP = 1e-4  # In device values, for differences.
_GOOD = 0.005  # Tones whose squared weighted error is below this have met their target.
_RETRIES = 6
_ENOUGH = 1e-5  # A step this small, in device values, ends the search.


SHARP_BEND = 1e-3
"""Second difference of R, G, B from one of 256 tones to the next that counts like an error of one
standard deviation. Tone curves bend by a tenth of it (d²/dv² = 6); only where black is blocked, or
a channel leaves its end, do solved values bend so sharply."""

_AS_BLACK = 0.1  # L* above black that no one misses.
_LEAST_SD = 0.03  # However sure the model is of itself, CIELAB units.
_FIXED = 1e12  # Weight that holds black and paper where they are.


@dataclass(frozen=True, eq=False)
class View:
    """How a print looks under one light, and how it should.

    Attributes
    ----------
    model
        How the printer answers, as seen there.
    targets
        Shape (n, 3): CIELAB aimed at.
    weight
        How much a squared error of a*, b* counts.
    """

    model: PrinterModel
    targets: Array
    weight: float = 1.0

    def only(self, tones: Indices) -> View:
        """The view of some of the tones."""
        return replace(self, targets=self.targets[tones])


@dataclass(frozen=True, eq=False)
class Solution:
    """The solved tones.

    Attributes
    ----------
    levels
        Shape (256,).
    rgb
        Shape (256, 3): what to send; what prints darkest at level 0, and 1, 1, 1 at level 1.
    lab, sd
        Shape (256, 3): what is expected of it, and one standard deviation.
    """

    levels: Array
    rgb: Array
    lab: Array
    sd: Array


def solve(
    model: PrinterModel,
    targets: Array,
    *,
    cautious: bool = False,
    priority: Array | None = None,
    tone_only: bool = False,
    weight: float = 1.0,
    beside: Sequence[View] = (),
    starts_at: float = 0.0,
    near: Array | None = None,
) -> Solution:
    """Find R, G, B for each tone.

    Parameters
    ----------
    model
        How the printer answers.
    targets
        Shape (256, 3): CIELAB aimed at, for levels i / 255.
    cautious
        Count the uncertainty of the answer as an error too. Where the answer beside the axis is
        only supposed, this goes part of the way: as far as makes the expected square error least.
    priority
        Shape (256,): how much each tone counts where the tones are made smooth; None: all alike.
    tone_only
        Send equal R, G, B: correct the tone scale alone, and leave the tint.
    weight
        How much a squared error of a*, b* counts where there are others beside.
    beside
        The print as seen under further lights: their a*, b* count as well. L* is that of `model`.
    starts_at
        Level of equal R, G, B at which the tones begin (see `begins_at`).
    near
        Shape (256, 3): values near those sought, from which the search begins; None starts from
        equal R, G, B.

    Returns
    -------
    The tones. Where a target is out of reach, the nearest within, by `TONE_WEIGHT`.
    """
    levels = np.linspace(0.0, 1.0, TONES)
    inner = slice(1, -1)
    views = tuple(replace(view, targets=view.targets[inner]) for view in beside)
    search = _Search(
        model, targets[inner], _tone_weight(levels[inner]), cautious, np.sqrt(weight), views
    )
    rgb = np.zeros((TONES, 3))
    rgb[0], rgb[-1] = starts_at, 1.0
    along = _along_the_axis(model, targets[inner, 0], starts_at)
    if tone_only:
        rgb[inner] = along
        return Solution(levels, rgb, model.lab(rgb), model.stated(rgb))
    rgb[inner] = _found(search, along) if near is None else search.run(near[inner])
    rgb = smoothed(rgb, *_slopes_and_sd(search, rgb), priority)
    return Solution(levels, rgb, model.lab(rgb), model.stated(rgb))


def _slopes_and_sd(search: _Search, rgb: Array) -> tuple[Array, Array]:
    """Return slopes and uncertainties of L* and of each light's a*, b*, as much as each counts."""
    slopes, sd = search.model.jacobian(rgb), search.model.uncertainty(rgb)
    if not search.beside:
        return slopes, sd
    shares = np.array([1.0, search.weight, search.weight])
    all_slopes, all_sd = [slopes * shares[:, np.newaxis]], [sd]
    for view in search.beside:
        share = np.sqrt(view.weight)
        all_slopes.append(view.model.jacobian(rgb)[:, 1:] * share)
        all_sd.append(view.model.uncertainty(rgb)[:, 1:])
    return np.concatenate(all_slopes, axis=1), np.concatenate(all_sd, axis=1)


def _tone_weight(levels: Array) -> Array:
    """Return the weight of L* against a* and b* by level."""
    nearest = np.minimum(levels, 1.0 - levels)
    return np.asarray(TONE_WEIGHT / np.minimum(nearest / _JOIN, 1.0))


def begins_at(model: PrinterModel, darkest: float, blocked_below: float | None) -> float:
    """The level of equal R, G, B at which a curve begins: all below prints as black, or lighter.

    Parameters
    ----------
    darkest
        Where the print is darkest; below it more ink prints lighter.
    blocked_below
        Below it all tones print alike; None where they separate from the darkest on.
    """
    if blocked_below is None:
        return darkest
    grid = np.linspace(darkest, blocked_below, TONES)
    L = model.lab(equal_channels(grid))[:, 0]
    return float(grid[np.flatnonzero(L[0] + _AS_BLACK >= L)[-1]])


def _along_the_axis(model: PrinterModel, L: Array, starts_at: float) -> Array:
    """Return equal R, G, B whose print has these L*, shape (n, 3): where the search starts."""
    grid = np.linspace(starts_at, 1.0, TONES)
    rising = np.maximum.accumulate(model.lab(equal_channels(grid))[:, 0])
    level = np.interp(L, rising + 1e-9 * grid, grid)
    return equal_channels(level)


def _found(search: _Search, start: Array) -> Array:
    """Search for the first light from the axis, and from there for all that is asked.

    Where an ink sets in, or grey is laid by the least of the inks, the errors have ridges, on which
    steps downhill can come to a halt. For one light it shows, as its aim can be met, and the search
    begins again from the neighbours that have met theirs.
    """
    plain = replace(search, cautious=False, beside=())
    x = plain.run(start)
    tones = np.arange(len(x))
    for _ in range(_RETRIES):
        good = plain.cost(x) < _GOOD
        stuck = np.flatnonzero(~good)
        if not stuck.size or not good.any():
            break
        between = np.column_stack([np.interp(stuck, tones[good], c[good]) for c in x.T])
        part = plain.only(stuck)
        again = part.run(between)
        better = part.cost(again) < part.cost(x[stuck]) - _ENOUGH
        if not better.any():
            break
        x[stuck[better]] = again[better]
    return search.run(x) if search.cautious or search.beside else x


@dataclass(frozen=True, eq=False)
class _Search:
    """The errors of all tones, and how to make them small."""

    model: PrinterModel
    targets: Array
    tone_weight: Array
    cautious: bool
    weight: float = 1.0
    beside: tuple[View, ...] = ()

    def only(self, tones: Indices) -> _Search:
        """Return the search for some of the tones."""
        return replace(
            self,
            targets=self.targets[tones],
            tone_weight=self.tone_weight[tones],
            beside=tuple(view.only(tones) for view in self.beside),
        )

    def cost(self, x: Array) -> Array:
        """Return the sum of the squared weighted errors, shape (n,)."""
        return np.asarray(np.sum(self._residual(x) ** 2, axis=1))

    def run(self, start: Array) -> Array:
        """Return the values found from a start, shape (n, 3)."""
        return descend(
            lambda x, tones: self.only(tones)._residual(x),
            lambda x, tones: self.only(tones)._slopes(x),
            start,
        )

    def _residual(self, x: Array) -> Array:
        """Return weighted errors, shape (n, 3); with caution 3 more, for each further light 2."""
        weight = np.column_stack([self.tone_weight, np.full((len(x), 2), self.weight)])
        error = self.model.lab(x) - self.targets
        error[:, 0] *= np.sqrt(1.0 + (error[:, 0] / TONE_ERROR) ** 2)
        parts = [error * weight]
        if self.cautious:
            parts.append(self.model.uncertainty(x))
        for view in self.beside:
            off = (view.model.lab(x) - view.targets)[:, 1:]
            parts.append(np.sqrt(view.weight) * off)
        return np.concatenate(parts, axis=1)

    def _slopes(self, x: Array) -> Array:
        """Return the change of the errors with R, G, B, shape (n, any, 3)."""
        count = len(x)
        repeated = self.only(np.tile(np.arange(count), 6))
        steps = np.concatenate([_STEP * np.eye(3), -_STEP * np.eye(3)])
        moved = (x + steps[:, np.newaxis]).reshape(-1, 3)
        errors = repeated._residual(moved).reshape(6, count, -1)
        return np.stack([(errors[c] - errors[c + 3]) / (2 * _STEP) for c in range(3)], axis=-1)


Errors = Callable[[Array, Indices], Array]


def descend(residual: Errors, slopes: Errors, start: Array, met: float = 0.0) -> Array:
    """Return R, G, B, shape (n, 3), of least squared error, by damped Gauss-Newton steps.

    All n are sought at once, held within 0 and 1.

    Parameters
    ----------
    residual
        Errors, shape (m, k), of values, shape (m, 3), for those of these indices, shape (m,).
    slopes
        Their change with R, G, B, shape (m, k, 3), likewise.
    start
        Shape (n, 3).
    met
        Where the squared errors come to no more than this, the search ends.
    """
    x, tones = start.copy(), np.arange(len(start))
    errors, rise = residual(x, tones), slopes(x, tones)
    cost = np.sum(errors**2, axis=1)
    damping = np.full(len(x), 1e-4)
    tones = tones[cost > met]
    for _ in range(_STEPS):
        if not tones.size:
            break
        step = _step(x[tones], errors[tones], rise[tones], damping[tones])
        trial = np.clip(x[tones] + step, 0.0, 1.0)
        trial_errors = residual(trial, tones)
        trial_cost = np.sum(trial_errors**2, axis=1)
        better = trial_cost < cost[tones]
        moved = np.abs(trial - x[tones]).max(axis=1)
        won = tones[better]
        x[won], errors[won], cost[won] = trial[better], trial_errors[better], trial_cost[better]
        damping[tones] *= np.where(better, 0.1, 10.0)
        damping = np.clip(damping, 1e-9, 1e6)
        # Most arrive after a few steps: they need not wait for the others.
        going = np.where(better, moved >= _ENOUGH, damping[tones] <= 1e3) & (cost[tones] > met)
        again = tones[better & going]
        tones = tones[going]
        if again.size:
            rise[again] = slopes(x[again], again)
    return x


def _step(x: Array, residual: Array, slopes: Array, damping: Array) -> Array:
    """Return the next step of each tone, channels that are at an end and want beyond held."""
    gradient = np.einsum("nij,ni->nj", slopes, residual)
    curvature = np.einsum("nij,nik->njk", slopes, slopes)
    size = np.trace(curvature, axis1=1, axis2=2)[:, np.newaxis, np.newaxis] / 3
    curvature = curvature + (damping[:, np.newaxis, np.newaxis] * size + 1e-9) * np.eye(3)
    held: Mask = ((x <= 0.0) & (gradient > 0)) | ((x >= 1.0) & (gradient < 0))
    either = held[:, :, np.newaxis] | held[:, np.newaxis, :]
    curvature = np.where(either, np.eye(3), curvature)
    gradient = np.where(held, 0.0, gradient)
    return np.asarray(-np.linalg.solve(curvature, gradient[..., np.newaxis])[..., 0])


def smoothed(rgb: Array, jacobian: Array, sd: Array, priority: Array | None = None) -> Array:
    """Return the smoothest values that print the same within the model's uncertainty.

    Where the printer's answer is well known, the values stay. Where it is not, or where many values
    print nearly alike, as in a blocked shadow, what looks like a bend is noise, and goes.

    Parameters
    ----------
    rgb
        Shape (n, 3): the solved values; the first and the last stay as they are.
    jacobian, sd
        Shapes (n, 3, 3) and (n, 3): change of CIELAB with the values, and its uncertainty.
    priority
        Shape (n,): how much each tone counts; None counts all alike.

    Returns
    -------
    Array of shape (n, 3): the least sum of priority × (change / uncertainty)² and of
    (bend / `SHARP_BEND`)² (a smoothing spline in three channels at once; Green and Silverman
    1994, Nonparametric Regression and Generalized Linear Models).
    """
    from scipy.linalg import solveh_banded

    weight = 1.0 / np.maximum(sd, _LEAST_SD) ** 2
    if priority is not None:
        weight *= priority[:, np.newaxis]
    known = np.einsum("nij,ni,nik->njk", jacobian, weight, jacobian)
    known[[0, -1]] = _FIXED * np.eye(3)
    bands = _roughness(len(rgb)) / SHARP_BEND**2
    for row in range(3):
        for column in range(row + 1):
            bands[row - column, column::3] += known[:, row, column]
    right = np.einsum("nij,nj->ni", known, rgb).ravel()
    smoothed = np.asarray(solveh_banded(bands, right, lower=True), dtype=np.float64)
    smoothed = np.clip(smoothed.reshape(-1, 3), 0.0, 1.0)
    smoothed[[0, -1]] = rgb[[0, -1]]
    return smoothed


def _roughness(count: int) -> Array:
    """Return the sum of squared second differences as the lower bands of a matrix, (7, 3 count)."""
    difference = np.zeros((count - 2, count))
    for offset, value in enumerate((1.0, -2.0, 1.0)):
        difference[np.arange(count - 2), np.arange(count - 2) + offset] = value
    square = difference.T @ difference
    bands = np.zeros((7, 3 * count))
    for apart in range(3):
        diagonal = np.diagonal(square, -apart)
        bands[3 * apart, : 3 * diagonal.size] = np.repeat(diagonal, 3)
    return bands
