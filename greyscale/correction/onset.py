"""Where an ink sets in: kinks in the printer's answer, which no smooth curve can follow.

A driver adds black ink from some amount of the colours on, or changes over from a light ink to a
dark one. There the printer's answer changes its slope at once. Where that happens beside the
grey axis depends on what the driver goes by: the least of the three inks, their mean, the
lightness, or each channel for itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array

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
        that is where all channels have fallen below theirs; "each": in each channel for itself.
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
        """Give how far device values (n, 3) lie below the onset: shape (n, 3 or 1), 0 above."""
        below = np.asarray(self.below) - device
        if self.by == "each":
            return np.asarray(np.maximum(below, 0.0))
        if self.by == "least":
            return np.asarray(np.maximum(below.min(axis=1, keepdims=True), 0.0))
        return np.asarray(np.maximum(below @ WEIGHTS[self.by][:, np.newaxis], 0.0))
