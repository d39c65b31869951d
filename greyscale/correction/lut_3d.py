"""The correction as a 3D LUT for RGB pictures: the curve on the grey axis, fading out off it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.correction.lut_3d_axis import GreyAxis, even_knots

FEWEST_NODES, MOST_NODES = 9, 65

USUAL_SIZES = (33, 65)
"""Nodes along each edge: the first that will do, where none are asked."""

CLOSE_ENOUGH = 0.1
"""CIEDE2000: the largest difference from the curve on the grey axis that will do."""

_SAFE = 0.07
"""What is sought, for the printer may answer more strongly than its model has it."""

NEAR = 0.10
"""Up to this saturation (largest channel less smallest, 0 to 1) the correction acts in full."""

FAR = (0.60, 0.80, 1.00)
"""From here on nothing is changed: the first that keeps the order of tones, see `_fade`."""

LUMINANCE_WEIGHTS = np.array([0.2126, 0.7152, 0.0722])
"""Shares of R, G, B in luminance: ITU-R BT.709, item 3.2, the primaries of sRGB as well."""

_TABLE = 4096
_BACKWARDS = 0.003  # Of the range: a channel that falls by less wavers with the noise.


@dataclass(frozen=True, eq=False)
class Lut3D:
    """A 3D LUT and how it was made.

    Attributes
    ----------
    table
        Shape (size, size, size, 3), indexed by red, green, blue; R, G, B from 0 to 1.
    far
        Saturation from which nothing is changed; None where all goes by luminance.
    by_luminance
        Whether every colour is printed as the grey of its luminance.
    by_level
        Whether colours near the axis move with their level, and not channel by channel: where a
        channel of the curve runs backwards, that would fold the table.
    """

    table: Array
    far: float | None
    by_luminance: bool
    by_level: bool = False

    @property
    def size(self) -> int:
        """Nodes along each edge."""
        return int(self.table.shape[0])

    @property
    def axis(self) -> Array:
        """The nodes of the grey axis, shape (size, 3)."""
        diagonal = np.arange(self.size)
        return np.asarray(self.table[diagonal, diagonal, diagonal])


def choose_size(axis: GreyAxis, size: int | None = None) -> int:
    """Choose how many nodes a 3D LUT has along each edge: as many as the curve needs.

    The nodes lie in even steps, which every program can read.

    Parameters
    ----------
    axis
        The curve on the grey axis.
    size
        What was asked for; None takes the first of `USUAL_SIZES` that comes close enough to the
        curve, else the last.

    Raises
    ------
    ValueError
        If `size` is not from 9 to 65.
    """
    if size is not None:
        if not FEWEST_NODES <= size <= MOST_NODES:
            raise ValueError(f"a 3D LUT has {FEWEST_NODES} to {MOST_NODES} nodes here, not {size}")
        return size
    enough = (count for count in USUAL_SIZES if axis.difference(even_knots(count)) < _SAFE)
    return next(enough, USUAL_SIZES[-1])


def lut_3d(axis: GreyAxis, size: int) -> Lut3D:
    """Make the LUT that fades from the curve on the grey axis into no change.

    A colour is led by its saturation, the largest channel less the smallest: up to `NEAR` each
    channel is corrected as by the 1D LUT, from `far` on not at all, and in between by a cubic
    that starts and ends level. Where a channel of the curve runs backwards, a colour moves as the
    grey of its level does, so that the table does not fold. All eight corners of a cell on the
    axis are corrected in full; there trilinear and tetrahedral reading agree.

    Parameters
    ----------
    axis
        The curve on the grey axis.
    size
        Nodes along each edge.
    """
    knots = even_knots(size)
    by_level = any(backwards(axis.levels, axis.sent))
    table, far = _fade(axis.nodes(knots), knots, by_level)
    return Lut3D(table, far, by_luminance=False, by_level=by_level)


def backwards(levels: Array, sent: Array) -> tuple[tuple[float, float] | None, ...]:
    """Return for red, green and blue between which levels the channel falls as the level rises.

    The largest fall of each; None where there is none.

    Parameters
    ----------
    levels, sent
        Shapes (n,) and (n, 3).
    """
    found: list[tuple[float, float] | None] = []
    for channel in sent.T:
        fall = np.maximum.accumulate(channel) - channel
        end = int(np.argmax(fall))
        start = int(np.argmax(channel[: end + 1]))
        falls = fall[end] > _BACKWARDS
        found.append((float(levels[start]), float(levels[end])) if falls else None)
    return tuple(found)


def least_determinant(table: Array) -> float:
    """Return the least determinant of a 3D LUT's Jacobian, over all its cells' first corners.

    Below 0 the table folds: colours that differ change places.
    """
    rest = slice(None, -1)
    steps = [np.diff(table, axis=c) for c in range(3)]
    steps = [steps[0][:, rest, rest], steps[1][rest, :, rest], steps[2][rest, rest, :]]
    jacobian = np.stack(steps, axis=-1) * (len(table) - 1)
    return float(np.linalg.det(jacobian).min())


def lut_3d_by_luminance(
    axis: GreyAxis, size: int, luminance: Callable[[Array], Array] | None = None
) -> Lut3D:
    """Make the LUT that prints every colour as the grey of its luminance.

    For a toned monochrome picture: its own tint goes, the correction's aim takes its place.

    Parameters
    ----------
    axis
        The curve on the grey axis.
    size
        Nodes along each edge.
    luminance
        Gives the luminance, 0 to 1, of encoded values, 0 to 1, rising; none: values as they are.
    """
    knots = even_knots(size)
    nodes = axis.nodes(knots)
    levels = _levels_by_luminance(knots, luminance)
    table = np.stack([np.interp(levels, knots, nodes[:, c]) for c in range(3)], axis=-1)
    return Lut3D(table, None, by_luminance=True)


def _grid(steps: Array) -> Array:
    """Give the values of all nodes, shape (size, size, size, 3)."""
    return np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1)


def _fade(axis: Array, knots: Array, by_level: bool) -> tuple[Array, float]:
    """Fade out over the shortest way on which no channel turns back; tell where it ends."""
    size = knots.size
    grid = _grid(knots)
    corrected = np.stack(
        [np.moveaxis(np.broadcast_to(axis[:, c], (size,) * 3), -1, c) for c in range(3)], axis=-1
    )
    if by_level:
        level = grid.mean(axis=-1)
        moved = [np.interp(level, knots, axis[:, c]) - level for c in range(3)]
        corrected = grid + np.stack(moved, axis=-1)
    saturation = np.ptp(grid, axis=-1)[..., np.newaxis]
    near = max(NEAR, 1.01 * float(np.diff(knots).max()))
    least = min(0.0, float(np.diff(axis, axis=0).min()))
    for far in FAR:
        share = _smooth_step((far - saturation) / (far - near))
        table = grid + share * (corrected - grid)
        in_order = least_determinant(table) > 0 if by_level else _least_step(table) >= least - 1e-9
        if in_order:
            break
    return np.clip(table, 0.0, 1.0), far


def _least_step(table: Array) -> float:
    """Give the least rise of a channel from node to node along its own direction."""
    return min(float(np.diff(table[..., c], axis=c).min()) for c in range(3))


def _smooth_step(x: Array) -> Array:
    """Rise from 0 at x ≤ 0 to 1 at x ≥ 1, level at both ends."""
    t = np.clip(x, 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def _levels_by_luminance(knots: Array, luminance: Callable[[Array], Array] | None) -> Array:
    """Give the level of the grey with each node's luminance, shape (size, size, size)."""
    grid = _grid(knots)
    straight = np.asarray(grid @ LUMINANCE_WEIGHTS)
    if luminance is None:
        return straight
    levels = np.linspace(0.0, 1.0, _TABLE)
    encoded = np.maximum.accumulate(luminance(levels))
    Y = np.interp(grid, levels, encoded) @ LUMINANCE_WEIGHTS
    by_luminance = np.interp(Y, encoded, levels)
    # Next to the axis the encoded values are weighted themselves. The two differ by nothing that
    # could be seen there, and so trilinear reading of the axis stays a straight line.
    cells = np.ptp(_grid(np.arange(knots.size, dtype=np.float64)), axis=-1)
    share = _smooth_step((cells - 1.0) / 2.0)
    return np.asarray(straight + share * (by_luminance - straight))
