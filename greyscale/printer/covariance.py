"""How alike the printer's answers to two sets of device values are held to be beforehand.

The printer's answer (L*, or a*, or b*) near the grey axis is taken as a Gaussian process (Rasmussen
and Williams 2006, Gaussian Processes for Machine Learning). Device values are split into the
level t (the mean of R, G, B) and the offset o from the axis, in two opponent directions. The
answer is the sum of

- a smooth function of t, on the axis;
- slopes with o, and bends with the square of o, that change smoothly with t: a Jacobian that
  varies with tone, and its second-order terms;
- creases with o, that change smoothly with t as well: a driver lays black by the largest channel,
  and a table interpolated in tetrahedra bends where two channels are alike; both have an edge
  on the axis, and slopes that differ to its two sides;
- a smooth function of each channel alone, less its value on the axis;
- behind each onset of an ink, what that ink adds: a driver adds black ink from some amount of the
  colours on, or changes over from a light ink to a dark one, and there the answer changes its
  slope at once, which no smooth curve can follow.

Every smooth function has a Matérn covariance (ν = 9/2: inks answer smoothly between onsets, and a
rougher one takes noise for bends) over a line that may be stretched towards black and towards
paper, where inks answer faster. How large, how smooth and how stretched each is, is told by the
evidence (`gaussian_process`); where inks set in, `model` finds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from greyscale.colorimetry.arrays import Array, matern_92, matern_92_fall
from greyscale.printer.answers import OPPONENT

PARAMETERS = (
    "axis", "slope_constant", "slope", "bend", "crease", "red", "green", "blue", "onset",
    "length_axis", "length_slope", "length_channel", "length_onset",
    "stretch_black", "stretch_paper",
)  # fmt: skip
"""Sizes (CIELAB units; slopes per `OFFSET_UNIT`), lengths (levels) and stretches, as logarithms."""

OFFSET_UNIT = 0.05
"""The offset from the axis that counts as one: about that of a near-neutral patch."""

_STRETCH_REACH = 0.03  # How near to the ends of the line a stretch still grows, in levels.
_ONSET_OFFSET = 0.04  # Share of an onset's variance that goes with the square of the offset.
# Slightly beyond the ends, so that differences can be taken there.
_TABLE = np.linspace(-0.01, 1.01, 341)

WEIGHTS = {
    "mean": np.array([1.0, 1.0, 1.0]) / 3.0,
    # Luma of ITU-R BT.601: what drivers take for the lightness of R, G, B.
    "luma": np.array([0.299, 0.587, 0.114]),
}
"""What a driver may go by: a weighted mean of the channels."""


@dataclass(frozen=True)
class Onset:
    """An ink that sets in below some level.

    Attributes
    ----------
    by
        "mean", "luma": by that mean of the channels; "least": by the least of the three inks,
        each from nothing at its channel's level to all of it at 0, that is where all channels have
        fallen below theirs.
    below
        Levels of R, G, B below which the ink is there (all alike for "mean" and "luma").
    """

    by: str
    below: tuple[float, float, float]

    @property
    def level(self) -> float:
        """Level on the grey axis below which the ink is there."""
        return min(self.below) if self.by == "least" else max(self.below)

    def amounts(self, device: Array) -> Array:
        """Return how far device values (n, 3) lie below the onset: shape (n, 1), 0 above."""
        levels = np.asarray(self.below)
        below = levels - device
        if self.by == "least":
            # Of light sent to no channel all inks are full: there, too, none is the least.
            shares = (below / np.maximum(levels, 1e-3)).min(axis=1, keepdims=True)
            return np.asarray(np.maximum(shares * levels.mean(), 0.0))
        return np.asarray(np.maximum(below @ WEIGHTS[self.by][:, np.newaxis], 0.0))


@dataclass(frozen=True, eq=False)
class Points:
    """Device values, shape (n, 3), with what the covariance needs of them."""

    device: Array
    onsets: Sequence[Onset] = ()

    @cached_property
    def level(self) -> Array:
        """The mean of the channels, shape (n,)."""
        return np.asarray(self.device.mean(axis=1))

    @cached_property
    def offset(self) -> Array:
        """Offset from the axis in two directions, in `OFFSET_UNIT`s, shape (n, 2)."""
        return np.asarray(self.device @ OPPONENT.T / OFFSET_UNIT)

    @cached_property
    def creases(self) -> Array:
        """What a driver's creases add to a slope, in `OFFSET_UNIT`s, shape (n, 4).

        How far each two of the channels are apart, and how far the largest is from the level.
        """
        apart = np.abs(self.device - np.roll(self.device, 1, axis=1))
        most = self.device.max(axis=1) - self.level
        return np.asarray(np.column_stack([apart, most]) / OFFSET_UNIT)

    @cached_property
    def amounts(self) -> Array:
        """How far below each onset, shape (n, onsets)."""
        if not self.onsets:
            return np.zeros((len(self.device), 0))
        return np.concatenate([onset.amounts(self.device) for onset in self.onsets], axis=1)

    def __getitem__(self, rows: NDArray[np.intp]) -> Points:
        return Points(self.device[rows], self.onsets)

    def line(self, channel: int | None) -> Array:
        """Return the level (None) or one channel, shape (n,)."""
        return self.level if channel is None else self.device[:, channel]


def _stretches(line: Array) -> tuple[Array, Array]:
    """Return how far a full stretch towards black, and towards paper, moves points of a line."""
    reach = _STRETCH_REACH
    return (
        np.log((np.maximum(line, -0.5 * reach) + reach) / (1 + reach)),
        -np.log((np.maximum(1 - line, -0.5 * reach) + reach) / (1 + reach)),
    )


class Pairs:
    """Pairs of points of two sets: what of them is the same for all parameters.

    Parameters
    ----------
    first, second
        n and m points, with the same onsets: each of the first with each of the second, shape
        (n, m).
    one_by_one
        As many of both, paired in their order instead, shape (n,).
    """

    def __init__(self, first: Points, second: Points, *, one_by_one: bool = False) -> None:
        self.first, self.second, self._one_by_one = first, second, one_by_one
        self._gaps: dict[tuple[int | None, int | None], _Gaps] = {}

    @cached_property
    def dot(self) -> Array:
        """Scalar product of the offsets."""
        return self._products(self.first.offset, self.second.offset)

    @cached_property
    def creased(self) -> Array:
        """Scalar product of what creases add."""
        return self._products(self.first.creases, self.second.creases)

    @cached_property
    def behind_onsets(self) -> Array:
        """Product of the amounts below the onsets."""
        return self._products(self.first.amounts, self.second.amounts)

    def gaps(self, channel_1: int | None, channel_2: int | None) -> _Gaps:
        """Return how far apart the points are on a line: by level (None) or by a channel."""
        key = (channel_1, channel_2)
        if key not in self._gaps:
            first, second = self.first.line(channel_1), self.second.line(channel_2)
            self._gaps[key] = _Gaps.between(
                first if self._one_by_one else first[:, np.newaxis], second
            )
        return self._gaps[key]

    def _products(self, first: Array, second: Array) -> Array:
        if self._one_by_one:
            return np.asarray(np.sum(first * second, axis=1))
        return np.asarray(first @ second.T)


class PairsWithin(Pairs):
    """The pairs of one set of n points, each once, shape (n (n + 1) / 2,): half of the work.

    They stand in the order of a matrix's lower triangle, row by row.
    """

    def __init__(self, points: Points) -> None:
        self.points = points
        self._lower = np.tril_indices(len(points.device))
        rows, columns = self._lower
        super().__init__(points[rows], points[columns], one_by_one=True)

    def of(self, matrix: Array) -> Array:
        """The values of a symmetric matrix (n, n) for the pairs."""
        return np.asarray(matrix[self._lower])

    def matrix(self, values: Array) -> Array:
        """Values of the pairs as the lower triangle of a matrix (n, n), zero above it."""
        out = np.zeros((len(self.points.device),) * 2)
        out[self._lower] = values
        return out

    def folded(self, lower: Array) -> Array:
        """The lower triangle of a symmetric matrix, such that sums over it are over the whole."""
        doubled = 2.0 * lower
        np.fill_diagonal(doubled, lower.diagonal())
        return np.asarray(doubled[self._lower])


@dataclass(frozen=True, eq=False)
class _Gaps:
    """Distances on a line, and by how much the stretches towards black and paper add to them."""

    plain: Array
    black: Array
    paper: Array

    @staticmethod
    def between(first: Array, second: Array) -> _Gaps:
        (black_1, paper_1), (black_2, paper_2) = _stretches(first), _stretches(second)
        # The line is stretched, never folded: all three have the same sign.
        return _Gaps(np.abs(first - second), np.abs(black_1 - black_2), np.abs(paper_1 - paper_2))

    def stretched(self, stretch: tuple[float, float]) -> Array:
        """The distances on the stretched line."""
        distance = stretch[0] * self.black
        distance += self.plain
        distance += stretch[1] * self.paper
        return distance


class _Matern:
    """Matérn covariance, ν = 9/2, of points on two stretched lines, and its derivatives."""

    def __init__(
        self, gaps: _Gaps, stretched: Array, length: float, stretch: tuple[float, float]
    ) -> None:
        self.gaps, self.stretch = gaps, stretch
        self.scale = 3.0 / length
        self.distance = stretched * self.scale
        self.decay = np.exp(-self.distance)

    @cached_property
    def value(self) -> Array:
        return matern_92(self.distance, self.decay)

    def slopes(self, weight: Array) -> Array:
        """Slopes of a weighted sum by the logarithms of the length and both stretches: (3,)."""
        steep = weight * matern_92_fall(self.distance, self.decay)
        by_black = -self.stretch[0] * self.scale * (steep @ self.gaps.black)
        by_paper = -self.stretch[1] * self.scale * (steep @ self.gaps.paper)
        return np.array([steep @ self.distance, by_black, by_paper])


def _sizes(log_parameters: Array) -> dict[str, float]:
    return dict(zip(PARAMETERS, np.exp(log_parameters).tolist(), strict=True))


class Covariance:
    """The covariance of the answers at two sets of points, for one set of parameters.

    Parameters
    ----------
    pairs
        Of points.
    log_parameters
        Shape (15,): logarithms of `PARAMETERS`.
    """

    def __init__(self, pairs: Pairs, log_parameters: Array) -> None:
        self.pairs, self.dot = pairs, pairs.dot
        self.p = _sizes(log_parameters)
        self._stretched: dict[tuple[int | None, int | None], Array] = {}

    def _matern(self, length: str, channel_1: int | None, channel_2: int | None) -> _Matern:
        p, lines = self.p, (channel_1, channel_2)
        stretch = (p["stretch_black"], p["stretch_paper"])
        gaps = self.pairs.gaps(*lines)
        if lines not in self._stretched:
            self._stretched[lines] = gaps.stretched(stretch)
        return _Matern(gaps, self._stretched[lines], p[length], stretch)

    @cached_property
    def _axis(self) -> _Matern:
        return self._matern("length_axis", None, None)

    @cached_property
    def _slope(self) -> _Matern:
        return self._matern("length_slope", None, None)

    @cached_property
    def _onset(self) -> _Matern:
        return self._matern("length_onset", None, None)

    @cached_property
    def _onset_size(self) -> Array:
        return np.asarray(self.p["onset"] ** 2 * self.pairs.behind_onsets)

    @cached_property
    def _channels(self) -> list[tuple[str, list[tuple[float, _Matern]]]]:
        """For each channel, the parts of its covariance less the axis's: sign and Matérn."""
        axis = self._matern("length_channel", None, None)
        parts = []
        for c, name in enumerate(("red", "green", "blue")):
            own = [
                (1.0, self._matern("length_channel", c, c)),
                (-1.0, self._matern("length_channel", c, None)),
                (-1.0, self._matern("length_channel", None, c)),
                (1.0, axis),
            ]
            parts.append((name, own))
        return parts

    @cached_property
    def value(self) -> Array:
        """The covariance, of the pairs' shape."""
        p, dot = self.p, self.dot
        total = p["axis"] ** 2 * self._axis.value
        total += dot * (p["slope_constant"] ** 2 + p["slope"] ** 2 * self._slope.value)
        total += p["bend"] ** 2 * dot * dot * self._slope.value
        total += p["crease"] ** 2 * self.pairs.creased * self._slope.value
        for name, parts in self._channels:
            total += p[name] ** 2 * sum(sign * part.value for sign, part in parts)
        if self.pairs.first.onsets:
            total += self._onset_size * (1 + _ONSET_OFFSET * dot) * self._onset.value
        return total

    def slopes(self, weight: Array) -> Array:
        """Derivatives of the sum of all pairs' covariances, weighted, by each log parameter: (15,).

        Parameters
        ----------
        weight
            Shape (pairs,), where they are paired one by one.
        """
        p, dot = self.p, self.dot
        out = dict.fromkeys(PARAMETERS, 0.0)
        beside = weight * dot
        bent, creased = beside * dot, weight * self.pairs.creased
        out["axis"] = 2 * p["axis"] ** 2 * float(weight @ self._axis.value)
        out["slope_constant"] = 2 * p["slope_constant"] ** 2 * float(np.sum(beside))
        out["slope"] = 2 * p["slope"] ** 2 * float(beside @ self._slope.value)
        out["bend"] = 2 * p["bend"] ** 2 * float(bent @ self._slope.value)
        out["crease"] = 2 * p["crease"] ** 2 * float(creased @ self._slope.value)
        kernels = [
            ("length_axis", self._axis, p["axis"] ** 2 * weight),
            (
                "length_slope",
                self._slope,
                p["slope"] ** 2 * beside + p["bend"] ** 2 * bent + p["crease"] ** 2 * creased,
            ),
        ]
        for name, parts in self._channels:
            size = p[name] ** 2
            out[name] = 2 * size * sum(sign * float(weight @ part.value) for sign, part in parts)
            kernels += [("length_channel", part, sign * size * weight) for sign, part in parts]
        if self.pairs.first.onsets:
            behind = self._onset_size * (weight + _ONSET_OFFSET * beside)
            out["onset"] = 2 * float(behind @ self._onset.value)
            kernels.append(("length_onset", self._onset, behind))
        for length, kernel, weights in kernels:
            for name, slope in zip(
                (length, "stretch_black", "stretch_paper"), kernel.slopes(weights), strict=True
            ):
                out[name] += float(slope)
        return np.array([out[name] for name in PARAMETERS])


@dataclass(frozen=True, eq=False)
class AnswerByLine:
    """The expected answer, taken apart into functions of one line each, which are tabulated.

    The covariance is a sum of products of functions of the level, the offset, one channel, or the
    amount below an onset; so is the expected answer, a weighted sum of covariances. Tables make it
    a hundred times quicker than summing over all evidence each time.

    Attributes
    ----------
    by_level
        Functions of the level: the axis, two slopes, three bends, four creases, three channels'
        values on the axis, and for each onset three parts.
    by_channel
        For each channel its own function.
    """

    by_level: Callable[[Array], Array]
    by_channel: Sequence[Callable[[Array], Array]]

    @staticmethod
    def tabulated(evidence: Points, weights: Array, log_parameters: Array) -> AnswerByLine:
        """Tabulate the sum of the covariances with n points of evidence, weighted (n,)."""
        from scipy.interpolate import CubicSpline

        p = _sizes(log_parameters)
        stretch = (p["stretch_black"], p["stretch_paper"])
        o1, o2 = evidence.offset.T

        @cache
        def gaps(channel: int | None) -> tuple[_Gaps, Array]:
            between = _Gaps.between(_TABLE[:, np.newaxis], evidence.line(channel))
            return between, between.stretched(stretch)

        @cache
        def kernel(channel: int | None, length: str) -> Array:
            return _Matern(*gaps(channel), p[length], stretch).value

        def table(channel: int | None, length: str, columns: Array) -> Array:
            return kernel(channel, length) @ columns

        def stacked(*columns: Array) -> Array:
            return np.column_stack(columns) * weights[:, np.newaxis]

        axis = table(None, "length_axis", stacked(p["axis"] ** 2 * np.ones_like(o1)))
        slopes = table(
            None, "length_slope",
            stacked(o1, o2, o1 * o1, o1 * o2, o2 * o2, *evidence.creases.T),
        )  # fmt: skip
        slopes *= np.repeat([p["slope"], p["bend"], p["crease"]], [2, 3, 4]) ** 2
        slopes[:, 3] *= 2.0
        slopes[:, :2] += p["slope_constant"] ** 2 * (weights @ evidence.offset)
        channels = []
        for c, name in enumerate(("red", "green", "blue")):
            # At a channel's value: the evidence's own channel, less its level.
            size = p[name] ** 2 * weights[:, np.newaxis]
            channels.append(table(c, "length_channel", size) - table(None, "length_channel", size))
        onsets = [
            table(None, "length_onset", stacked(*(amount * p["onset"] ** 2 * part
                  for part in (np.ones_like(o1), _ONSET_OFFSET * o1, _ONSET_OFFSET * o2))))
            for amount in evidence.amounts.T
        ]  # fmt: skip
        by_level = CubicSpline(_TABLE, np.hstack([axis, slopes, *channels, *onsets]))
        return AnswerByLine(by_level, [CubicSpline(_TABLE, column[:, 0]) for column in channels])

    def at(self, points: Points) -> Array:
        """Return the answer at m points, shape (m,)."""
        f = self.by_level(points.level)
        o1, o2 = points.offset.T
        total = f[:, 0] + o1 * f[:, 1] + o2 * f[:, 2]
        total += o1 * o1 * f[:, 3] + o1 * o2 * f[:, 4] + o2 * o2 * f[:, 5]
        total += np.sum(points.creases * f[:, 6:10], axis=1)
        for c, own in enumerate(self.by_channel):
            total += own(points.line(c)) - f[:, 10 + c]
        for i, amount in enumerate(points.amounts.T):
            plain, first, second = f[:, 13 + 3 * i : 16 + 3 * i].T
            total += amount * (plain + o1 * first + o2 * second)
        return np.asarray(total)


def variance(points: Points, log_parameters: Array) -> Array:
    """The variance of the answer at each point beforehand, shape (n,)."""
    return Covariance(Pairs(points, points, one_by_one=True), log_parameters).value
