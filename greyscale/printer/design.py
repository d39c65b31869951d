"""Which patches tell most about a correction: so many of them, one by one, repeats counted in.

What a corrected print is off by is what the model errs by at the values that are sent for each
tone, less what it errs by at bare paper as far as the aim follows the paper. Each next patch is the
one whose measurement makes the expected square of that least; of a Gaussian process it is known
beforehand by how much (one by one, as Krause, Singh and Guestrin 2008 choose, Near-optimal sensor
placements in Gaussian processes, J. Machine Learning Research 9). Summed over the tones are the
squares of that square, so that the worst tones count most. A patch may come again: then its noise
is what becomes less.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from greyscale.charts.patches import (
    DEFAULT_BITS,
    PatchList,
    moved_channels,
    whole_steps,
    with_room,
)
from greyscale.colorimetry.arrays import Array, columns_at, equal_channels
from greyscale.printer.answers import OPPONENT
from greyscale.printer.covariance import PARAMETERS, Covariance, Onset, Pairs, Points, variance
from greyscale.printer.gaussian_process import BEFOREHAND
from greyscale.printer.model import PrinterModel
from greyscale.readings.reading import ASSUMED_SD

FEWEST_PATCHES = 24
"""Fewer do not hold a ramp of seven tones and what is needed beside it."""

_TONES = np.linspace(0.02, 0.99, 26)
_POWER = 2  # Of a tone's variance, in the sum over the tones: 1 is the mean error, more the worst.

# How far from the axis neutral is to be expected beforehand, in device values: of the larger share
# of printers near it; of others further, the more so the darker (at level 0.5 as far as this).
_NEAR_CAST, _FAR_CAST, _NEAR_SHARE = 0.03, 0.1, 0.75

# A printer that nobody measured is taken for a rather lively one: there most is to be lost.
_LIVELY = {
    "length_axis": 0.25, "length_slope": 0.4, "length_channel": 0.5,
    "red": 5.0, "green": 6.0, "blue": 5.0,
}  # fmt: skip
_SHARES = np.concatenate([np.full(7, _NEAR_SHARE / 7), np.full(6, (1.0 - _NEAR_SHARE) / 6)])
"""Of the axis and the near ring, and of the far ring."""

_USUAL = np.concatenate([np.full(7, 1 / 7), np.zeros(6)])
"""The same of a usual printer, by which it is said what to expect."""

_AIM_KEEPS = 0.15  # Of the paper's tint at black (the fading aim, ISO 12647-2; memory).
_LEVELS = np.concatenate([np.arange(0.0, 0.2, 0.04), np.linspace(0.2, 1.0, 17)])
_REACHES = (0.06, 0.12, 0.2)
_PAIRS = [np.eye(3)[one] - np.eye(3)[other] for one, other in permutations(range(3), 2)]
_WAYS = np.concatenate([np.eye(3), -np.eye(3), np.array(_PAIRS) / np.sqrt(3.0)])
_RAMP = 9
"""Tones of the ramp that come first, paper and black among them: the tone curve hangs on them."""


@dataclass(frozen=True, eq=False)
class Design:
    """Patches chosen, and what they are expected to leave.

    Attributes
    ----------
    patches
        In the order in which they were chosen.
    mean_delta_Ch
        Shape (count + 1,): the mean ΔCh to be expected of a correction after the first so many of
        them, from none on: the mean length of two deviations of a*, b*.
    """

    patches: PatchList
    mean_delta_Ch: Array


@dataclass(frozen=True, eq=False)
class Measured:
    """What is known of a printer already.

    Attributes
    ----------
    device, counts
        Shapes (n, 3) and (n,): device values measured, and how often each.
    sd_ab
        Standard deviation of one measurement of a* or b*.
    model
        What the measurements make of the printer.
    sent
        Shape (m, 3): what its correction sends, evenly by level.
    """

    device: Array
    counts: Array
    sd_ab: float
    model: PrinterModel
    sent: Array


def design(count: int, known: Measured | None = None, bits: int = DEFAULT_BITS) -> Design:
    """Choose patches.

    Parameters
    ----------
    count
        How many, repeats counted in.
    known
        What was measured before; None for a printer that nobody measured.
    bits
        Device values are whole codes of so many bits.
    """
    candidates = _candidates(None if known is None else known.sent, bits)
    if known is None:
        lively = BEFOREHAND.copy()
        lively[[PARAMETERS.index(name) for name in _LIVELY]] = np.log(list(_LIVELY.values()))
        tones = _supposed()
        beliefs = [_Belief(candidates, tones, (), lively, ASSUMED_SD, _SHARES)]
        judges = [_Belief(candidates, tones, (), BEFOREHAND, ASSUMED_SD, _USUAL)]
        first = _first(candidates)
    else:
        model, first = known.model, _first(candidates)[:1]
        beliefs = [
            _Belief(candidates, _along(known.sent), model.onsets, one.log_parameters, known.sd_ab)
            for one in model.processes[1:]
        ]
        for belief in beliefs:
            belief.told(known.device, known.counts)
        judges = []
    chosen: list[int] = []
    left = [[belief.left for belief in judges or beliefs]]
    for number in range(count):
        chosen.append(first[number] if number < len(first) else _most_telling(beliefs))
        for belief in (*beliefs, *judges):
            belief.measure(chosen[-1])
        left.append([belief.left for belief in judges or beliefs])
    mean_delta_Ch = np.sqrt(np.pi / 2) * np.sqrt(np.mean(left, axis=1))
    return Design(_listed(candidates[chosen], bits), mean_delta_Ch)


def _most_telling(beliefs: Sequence[_Belief]) -> int:
    """The candidate whose measurement leaves the least."""
    left = np.sum([belief.left_after() for belief in beliefs], axis=0)
    total = np.sum(left**_POWER, axis=0)
    # Of those that are alike but for rounding the first, whatever the machine.
    return int(np.argmin(np.round(total / total.min(), 9)))


def _along(sent: Array, levels: Array = _TONES) -> Array:
    at = np.linspace(0.0, 1.0, len(sent))
    return columns_at(levels, at, sent)


def _supposed() -> Array:
    """The values that may have to be sent for the tones of a printer that nobody measured.

    Of each tone those on the axis, and in two rings around it.
    """
    # Near paper little ink is there to be unbalanced.
    near = _NEAR_CAST * np.minimum(1.0, 4.0 * (1.0 - _TONES) + 0.2)
    far = _FAR_CAST * np.minimum(1.15 - _TONES, 0.8) / 0.65
    around = [np.repeat(_TONES[:, np.newaxis, np.newaxis], 3, axis=2)]
    for sizes, turned in ((near, 0.0), (far, 0.5)):
        turns = np.pi / 3 * (np.arange(6) + turned)
        ring = np.column_stack([np.cos(turns), np.sin(turns)]) @ OPPONENT
        around.append(around[0] + sizes[:, np.newaxis, np.newaxis] * ring)
    return np.asarray(np.clip(np.concatenate(around, axis=1).reshape(-1, 3), 0.0, 1.0))


def _candidates(sent: Array | None, bits: int) -> Array:
    """The patches to choose among, shape (m, 3): on the axis, and twelve ways beside what is sent.

    Of a printer that nobody measured, that is the axis itself.
    """
    grey = equal_channels(_LEVELS)
    centres = grey if sent is None else _along(sent, _LEVELS)
    beside = [centres + size * way for size in _REACHES for way in _WAYS]
    found = np.concatenate([grey, centres, *beside])
    return np.unique(whole_steps(with_room(found), bits), axis=0)


def _first(candidates: Array) -> list[int]:
    """The ramp that every chart has, as indices of candidates: paper, paper again, black, tones.

    Every aim starts from paper; and without any repeat the noise would only be assumed.
    """
    levels = np.linspace(0.0, 1.0, _RAMP) ** 1.15
    grey = np.flatnonzero(np.ptp(candidates, axis=1) == 0)
    found = [int(grey[np.argmin(np.abs(candidates[grey, 0] - level))]) for level in levels]
    return [found[-1], found[-1], *found[:-1]]


class _Belief:
    """What is not known yet: of a print's errors at its tones, and of each candidate."""

    def __init__(
        self,
        candidates: Array,
        tones: Array,
        onsets: Sequence[Onset],
        parameters: Array,
        sd: float,
        shares: Array = np.ones(1),  # noqa: B008
    ) -> None:
        self.shares = shares
        self.noise, self.parameters, self.onsets = sd**2, parameters, tuple(onsets)
        self.candidates = candidates
        # A tone's error, less that of paper as far as the aim follows it.
        share = _AIM_KEEPS + (1.0 - _AIM_KEEPS) * tones.mean(axis=1)
        self.places = np.concatenate([tones, np.ones((1, 3))])
        self.errors = np.column_stack([np.eye(len(tones)), -share])
        # What is known takes from how alike two candidates are the product of their columns here.
        self.known = np.zeros((0, len(candidates)))
        self.own = variance(Points(candidates, self.onsets), parameters)
        self.cross = self.errors @ self._alike(self.places, candidates)
        spread = self._alike(self.places, self.places)
        self.variance = np.einsum("ij,jk,ik->i", self.errors, spread, self.errors)

    def _alike(self, first: Array, second: Array) -> Array:
        pairs = Pairs(Points(first, self.onsets), Points(second, self.onsets))
        return Covariance(pairs, self.parameters).value

    @property
    def left(self) -> float:
        """Mean variance of a tone's error."""
        return float(np.mean(self._by_level(np.maximum(self.variance, 0.0)[:, np.newaxis])))

    def told(self, device: Array, counts: Array) -> None:
        """Take in what was measured."""
        from scipy.linalg import cholesky, solve_triangular

        noisy = self._alike(device, device) + np.diag(self.noise / counts + 1e-6)
        factor = cholesky(noisy, lower=True)
        self.known = solve_triangular(factor, self._alike(device, self.candidates), lower=True)
        of_errors = self._alike(device, self.places) @ self.errors.T
        told = solve_triangular(factor, of_errors, lower=True)
        self.own = self.own - np.sum(self.known**2, axis=0)
        self.cross = self.cross - told.T @ self.known
        self.variance = self.variance - np.sum(told**2, axis=0)

    def left_after(self) -> Array:
        """Mean variance at each level once each candidate was measured: shape (levels, m)."""
        gained = self.cross**2 / (self.own + self.noise)
        before = self._by_level(self.variance[:, np.newaxis])
        return np.asarray(np.maximum(before - self._by_level(gained), 0.0))

    def _by_level(self, values: Array) -> Array:
        """The means over the values that may have to be sent for a tone: (levels, m)."""
        each = values.reshape(len(_TONES), len(self.shares), -1)
        return np.asarray(np.einsum("lsm,s->lm", each, self.shares))

    def measure(self, index: int) -> None:
        """Take in that a candidate will be measured."""
        error, spread = self.cross[:, index].copy(), np.sqrt(self.own[index] + self.noise)
        row = self._alike(self.candidates[[index]], self.candidates)[0]
        row = (row - self.known[:, index] @ self.known) / spread
        self.known = np.vstack([self.known, row])
        self.own -= row**2
        self.cross -= np.outer(error, row) / spread
        self.variance -= (error / spread) ** 2


def _listed(device: Array, bits: int) -> PatchList:
    seen: set[bytes] = set()
    reasons = []
    for row in device:
        moved = np.ptp(row) > 0
        reason = moved_channels(row, float(np.median(row)), bits) if moved else "tone"
        again = row.tobytes() in seen
        seen.add(row.tobytes())
        reasons.append(f"repeat: {reason}" if again else reason)
    return PatchList(device, tuple(reasons))
