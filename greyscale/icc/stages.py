"""What a table of a profile does, stage by stage: curves, matrix, grid; values from 0 to 1."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array


@dataclass(frozen=True, eq=False)
class Curves:
    """A curve for each channel.

    Attributes
    ----------
    curves
        Functions of values from 0 to 1, arrays in and out.
    raw
        The bytes they were read from, as they are written back.
    """

    curves: tuple[Callable[[Array], Array], ...]
    raw: bytes

    def __call__(self, values: Array) -> Array:
        """Send values, shape (..., channels), through."""
        parts = [curve(np.clip(values[..., i], 0, 1)) for i, curve in enumerate(self.curves)]
        return np.stack(parts, axis=-1)


@dataclass(frozen=True, eq=False)
class Matrix:
    """A 3 by 3 matrix and an offset."""

    matrix: Array
    offset: Array
    raw: bytes

    def __call__(self, values: Array) -> Array:
        """Send values, shape (..., 3), through."""
        return np.asarray(np.clip(values @ self.matrix.T + self.offset, 0.0, 1.0))


@dataclass(frozen=True, eq=False)
class Grid:
    """A grid of colours, linear between its points along each input.

    Attributes
    ----------
    values
        Shape (points of each input..., outputs), 0 to 1.
    """

    values: Array

    def __call__(self, values: Array) -> Array:
        """Interpolate values, shape (..., inputs), over all corners of their cell."""
        inputs = self.values.ndim - 1
        points = np.array(self.values.shape[:-1])
        position = np.clip(values, 0.0, 1.0) * (points - 1)
        low = np.minimum(position.astype(int), points - 2)
        share = position - low
        result = np.zeros((*values.shape[:-1], self.values.shape[-1]))
        for corner in np.ndindex(*(2,) * inputs):
            at = tuple(low[..., i] + corner[i] for i in range(inputs))
            weights = [share[..., i] if corner[i] else 1 - share[..., i] for i in range(inputs)]
            result += np.prod(weights, axis=0)[..., np.newaxis] * self.values[at]
        return result

    def refined(self, factor: int) -> Grid:
        """Give the same function on a grid with `factor` cells for each of this one's."""
        points = [factor * (n - 1) + 1 for n in self.values.shape[:-1]]
        axes = np.meshgrid(*(np.linspace(0, 1, n) for n in points), indexing="ij")
        return Grid(self(np.stack(axes, axis=-1)))


Stage = Curves | Matrix | Grid


def through(stages: Sequence[Stage], values: Array) -> Array:
    """Send values through stages in order."""
    for stage in stages:
        values = stage(values)
    return values


def sampled(table: Array) -> Callable[[Array], Array]:
    """Make a curve of evenly spaced samples, straight between them."""
    places = np.linspace(0.0, 1.0, table.size)

    def curve(values: Array) -> Array:
        return np.asarray(np.interp(values, places, table))

    return curve


def parametric(kind: int, p: Sequence[float]) -> Callable[[Array], Array]:
    """Make a parametric curve (ISO 15076-1, 10.18, table 68).

    Raises
    ------
    ValueError
        For a kind that the standard does not know.
    """
    if kind not in range(5):
        raise ValueError(f"the parametric curve of kind {kind} is not known")
    g, a, b, c, d, e, f = [*p, *[0.0] * (7 - len(p))]
    if kind == 0:
        a, b, d, e, f = 1.0, 0.0, -np.inf, 0.0, 0.0
    elif kind in (1, 2):
        # Below -b/a the curve is constant: 0, or c.
        e = f = c if kind == 2 else 0.0
        c, d = 0.0, -b / a if a else -np.inf

    def curve(values: Array) -> Array:
        power = np.maximum(a * values + b, 0.0) ** g + e
        return np.clip(np.where(values >= d, power, c * values + f), 0.0, 1.0)

    return curve
