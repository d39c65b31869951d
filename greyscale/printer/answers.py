"""How one printer answered on one paper: what was sent, and what came back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.readings.reading import AXIS_TOLERANCE, NEAR_NEUTRAL

TONES = 256
"""Tones solved for: one per 8-bit code value; the curve is straight between them."""

Centre = Callable[[Array], Array]
"""CIELAB (n, 3) aimed at, by level (n,)."""

OPPONENT = np.array([[1, 0, -1], [-1, 2, -1]]) / np.sqrt([[2.0], [6.0]])
"""Two directions square to the grey axis, in which device values depart from it."""

_REACH_BESIDE = 0.012  # Standard deviation of offsets that tells the answer in a direction.

ASSUMED_FREEDOM = 4.0
"""The assumed repeatability counts like so many repeats: two or three patches read twice must not
pass for a noiseless instrument."""


@dataclass(frozen=True, eq=False)
class Answers:
    """All measurements of one printer and paper, with the device values that really were sent.

    Attributes
    ----------
    device
        Shape (n, 3): R, G, B as the printer got them (after an earlier correction's curve).
    lab
        Shape (n, 3): mean CIELAB measured for them.
    counts
        Shape (n,): how many measurements each mean is of.
    sd_L, sd_ab
        Standard deviation of one measurement of L*, and of a* or b*, pooled over all repeats.
    known
        Whether anything was repeated; else the two are the assumed ones.
    paper, black
        Shape (3,): CIELAB of bare paper and of the darkest patch (R = G = B = 0), means.
    """

    device: Array
    lab: Array
    counts: Array
    sd_L: float
    sd_ab: float
    known: bool
    paper: Array
    black: Array

    def __len__(self) -> int:
        return len(self.device)

    @property
    def measurements(self) -> int:
        """How many measurements there are, repeats included."""
        return int(np.sum(self.counts))

    @property
    def noise_spread(self) -> float:
        """Standard deviation of the logarithm of `sd_L`: of n repeats about 1/sqrt(2 n)."""
        repeats = float(np.sum(self.counts - 1)) if self.known else 0.0
        return float(1.0 / np.sqrt(2.0 * (repeats + ASSUMED_FREEDOM)))

    @property
    def over_the_page(self) -> Array | None:
        """What wanders over a page, in place of white noise: its covariance less that, (n, n).

        Of noise that repeats show to have a variance of one. None where no places are known.
        """
        return None

    @property
    def as_it_is(self) -> bool:
        """Whether nothing of it is to be set aside, since the person asked for that."""
        return False

    @property
    def near_neutral(self) -> bool:
        """Whether device values reach out from the grey axis: see `reaches_beside`."""
        return reaches_beside(self.device)


def reaches_beside(device: Array) -> bool:
    """Whether device values (n, 3) reach out from the grey axis in both directions, at most tones.

    A ramp printed through corrections leaves the axis as well, but at each tone in one direction
    only: it does not tell how the printer answers in the other.
    """
    apart = np.ptp(device, axis=1)
    if apart.max() <= AXIS_TOLERANCE:
        return False
    near = device[apart <= NEAR_NEUTRAL]
    level, offset = near.mean(axis=1), near @ OPPONENT.T
    told = []
    for middle in np.arange(0.1, 0.95, 0.1):
        around = offset[np.abs(level - middle) <= 0.1]
        if len(around) < 3:
            told.append(False)
            continue
        least = np.linalg.eigvalsh(np.cov(around.T))[0]
        told.append(bool(least > _REACH_BESIDE**2))
    return sum(told) > len(told) / 2
