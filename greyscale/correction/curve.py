"""The correction itself: what to send to the printer for each level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike, columns_at, equal_channels

CURVE_POINTS = 2041
"""Points of a solved curve: 8 · 255 + 1, so that each 8-bit code value lies on one."""


@dataclass(frozen=True, eq=False)
class Curve:
    """R, G, B to send for each level, and how the tone is expected to print.

    Attributes
    ----------
    levels
        Shape (N,): rising from 0 (black) to 1 (paper white), evenly spaced; N from 1024 to 4096.
    rgb
        Shape (N, 3): values for the printer, 0 to 1. The last is 1, 1, 1: bare paper.
    lab
        Shape (N, 3): predicted CIELAB of the print.
    sd
        Shape (N, 3): one standard deviation of the prediction of L*, a*, b*.
    """

    levels: Array
    rgb: Array
    lab: Array
    sd: Array

    def __len__(self) -> int:
        return self.levels.size

    def apply(self, device: ArrayLike) -> Array:
        """Send device values through the curve, channel by channel, as the 1D LUT does.

        Parameters
        ----------
        device
            Shape (..., 3): R, G, B from 0 to 1, on the grey axis or off it. Values outside are
            held at the ends.

        Returns
        -------
        Array of shape (..., 3), linear between the points of the curve.
        """
        values = np.asarray(device, dtype=np.float64)
        channels = [np.interp(values[..., c], self.levels, self.rgb[:, c]) for c in range(3)]
        return np.stack(channels, axis=-1)

    def predict(self, level: ArrayLike) -> Array:
        """Return the predicted CIELAB of levels of any shape, shape (..., 3)."""
        return columns_at(level, self.levels, self.lab)


def unchanged(points: int = CURVE_POINTS) -> Curve:
    """Return the curve that changes nothing and predicts nothing (CIELAB is not a number)."""
    levels = np.linspace(0.0, 1.0, points)
    unknown = np.full((points, 3), np.nan)
    return Curve(levels, equal_channels(levels), unknown, unknown)
