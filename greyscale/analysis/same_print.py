"""Does one print match another, or its promise: the tones that both have, one by one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import delta_E_2000
from greyscale.readings.reading import Reading
from greyscale.readings.repeats import average_repeats

MATCHES_WITHIN = 1.0
"""ΔE00 of the worst tone up to which prints side by side pass for the same; common practice, no
source."""

_SAME_LEVEL = 0.002


@dataclass(frozen=True, eq=False)
class Match:
    """Tones of a print against those of another.

    Attributes
    ----------
    level
        Shape (n,): the tones compared, rising.
    difference
        Shape (n, 3): L*, a*, b* of the print less those of the other.
    delta_E00
        Shape (n,).
    """

    level: Array
    difference: Array
    delta_E00: Array

    @property
    def worst(self) -> int:
        """Index of the tone that differs most."""
        return int(np.argmax(self.delta_E00))

    @property
    def matches(self) -> bool:
        """Whether no tone differs by more than `MATCHES_WITHIN`."""
        return float(self.delta_E00.max()) <= MATCHES_WITHIN


def grey_tones(reading: Reading) -> tuple[Array, Array]:
    """A reading's greys, repeats averaged: levels (n,), rising, and their L*, a*, b* (n, 3)."""
    averaged = average_repeats(reading).reading
    rows = averaged.axis_rows[::-1]
    return averaged.level[rows], averaged.lab[rows]


def match(level: Array, lab: Array, other_level: Array, other_lab: Array) -> Match:
    """Compare the tones that two prints have in common.

    Parameters
    ----------
    level, lab, other_level, other_lab
        As `grey_tones` returns them.

    Raises
    ------
    BadInput
        If they have no tone in common.
    """
    nearest = np.abs(level[:, np.newaxis] - other_level).argmin(axis=1)
    common = np.abs(other_level[nearest] - level) <= _SAME_LEVEL
    if not common.any():
        raise BadInput(
            "the strips have no tone in common; make the strip of every copy with the same "
            "correction and picture"
        )
    own, other = lab[common], other_lab[nearest[common]]
    return Match(level[common], own - other, delta_E_2000(own, other))
