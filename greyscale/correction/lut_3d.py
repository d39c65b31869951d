"""The correction as a 3D LUT for RGB pictures: the curve on the grey axis, no change far from it.

A 3D LUT is read by straight lines between its nodes, so that the curve, which bends, can only be
met as well as the nodes are many. The values of the nodes on the axis are therefore not taken from
the curve but fitted to it, and the largest difference that is left can be asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.differences import delta_E_2000
from greyscale.correction.curve import Curve

SIZES = (33, 49, 65)
"""Nodes along each edge: the first that meets the curve closely enough, where none are asked."""

FEWEST_NODES, MOST_NODES = 9, 65

CLOSE_ENOUGH = 0.1
"""The largest CIEDE2000 difference from the curve on the grey axis that is not worth more nodes."""

NEAR = 0.10
"""Up to this saturation (largest channel less smallest, 0 to 1) the correction acts in full."""

FAR = (0.60, 0.80, 1.00)
"""From here on nothing is changed: the first that keeps the order of tones, see `_fade`."""

LUMINANCE_WEIGHTS = np.array([0.2126, 0.7152, 0.0722])
"""Shares of R, G, B in luminance: ITU-R BT.709, item 3.2, the primaries of sRGB as well."""

_TABLE = 4096


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
    """

    table: Array
    far: float | None
    by_luminance: bool

    @property
    def size(self) -> int:
        """Nodes along each edge."""
        return int(self.table.shape[0])

    @property
    def axis(self) -> Array:
        """The nodes of the grey axis, shape (size, 3)."""
        diagonal = np.arange(self.size)
        return np.asarray(self.table[diagonal, diagonal, diagonal])


def lut_3d(curve: Curve, size: int = SIZES[0]) -> Lut3D:
    """Make the LUT that fades from the curve on the grey axis into no change.

    A colour is led by its saturation d, the largest channel less the smallest: up to `NEAR` each
    channel is corrected as by the 1D LUT, from `far` on not at all, and in between by a cubic
    that starts and ends level. All eight corners of a cell on the axis are corrected in full;
    there trilinear and tetrahedral reading agree.

    Raises
    ------
    ValueError
        If `size` is not from 9 to 65.
    """
    axis = axis_nodes(curve, size)
    table, far = _fade(axis)
    return Lut3D(table, far, by_luminance=False)


def lut_3d_by_luminance(
    curve: Curve, size: int = SIZES[0], luminance: Callable[[Array], Array] | None = None
) -> Lut3D:
    """Make the LUT that prints every colour as the grey of its luminance.

    For a toned monochrome picture: its own tint goes, the correction's aim takes its place.

    Parameters
    ----------
    luminance
        Gives the luminance, 0 to 1, of encoded values, 0 to 1, rising; none: values as they are.
    """
    axis = axis_nodes(curve, size)
    grid = _grid(size)
    levels = _levels_by_luminance(grid, size, luminance)
    nodes = np.linspace(0.0, 1.0, size)
    table = np.stack([np.interp(levels, nodes, axis[:, c]) for c in range(3)], axis=-1)
    return Lut3D(table, None, by_luminance=True)


def closest_lut(
    make: Callable[[int], Lut3D],
    curve: Curve,
    lab_of: Callable[[Array], Array],
    sizes: Sequence[int] = SIZES,
) -> tuple[Lut3D, float]:
    """Make the smallest LUT that is close enough to the curve, or else the closest.

    Parameters
    ----------
    make
        Gives the LUT with so many nodes along each edge.
    lab_of
        See `axis_difference`.
    sizes
        What to try, in order.

    Returns
    -------
    The LUT, and its largest CIEDE2000 difference from the curve on the grey axis.
    """
    tried = []
    for size in sizes:
        lut = make(size)
        tried.append((axis_difference(lut, curve, lab_of), lut))
        if tried[-1][0] < CLOSE_ENOUGH:
            break
    else:
        tried.sort(key=lambda pair: pair[0])
        return tried[0][1], tried[0][0]
    return tried[-1][1], tried[-1][0]


def axis_nodes(curve: Curve, size: int) -> Array:
    """Fit the nodes of the grey axis to the curve, shape (size, 3).

    Least squares over the whole curve halve the largest difference that nodes on the curve would
    leave. Black and white are the curve's own, so that bare paper stays bare.
    """
    if not FEWEST_NODES <= size <= MOST_NODES:
        raise ValueError(f"a 3D LUT has {FEWEST_NODES} to {MOST_NODES} nodes here, not {size}")
    levels = np.linspace(0.0, 1.0, _TABLE)
    wanted = _on_axis(curve, levels)
    basis = _straight_line_basis(levels, size)
    nodes = np.empty((size, 3))
    nodes[0], nodes[-1] = wanted[0], wanted[-1]
    rest = wanted - basis[:, [0, -1]] @ nodes[[0, -1]]
    inner = basis[:, 1:-1]
    nodes[1:-1] = np.linalg.solve(inner.T @ inner, inner.T @ rest)
    return np.clip(nodes, 0.0, 1.0)


def axis_difference(lut: Lut3D, curve: Curve, lab_of: Callable[[Array], Array]) -> float:
    """Give the largest CIEDE2000 difference between LUT and curve on the grey axis.

    Parameters
    ----------
    lab_of
        What the printer makes of device values (n, 3): CIELAB (n, 3).
    """
    levels = np.linspace(0.0, 1.0, _TABLE)
    read = _straight_line_basis(levels, lut.size) @ lut.axis
    return float(delta_E_2000(lab_of(read), lab_of(_on_axis(curve, levels))).max())


def _on_axis(curve: Curve, levels: Array) -> Array:
    return curve.apply(np.repeat(levels[:, np.newaxis], 3, axis=1))


def _straight_line_basis(levels: Array, size: int) -> Array:
    """Give each node's share in the value at each level, shape (levels, size)."""
    distance = np.abs(levels[:, np.newaxis] * (size - 1) - np.arange(size))
    return np.maximum(1.0 - distance, 0.0)


def _grid(size: int) -> Array:
    """Give the values of all nodes, shape (size, size, size, 3)."""
    steps = np.linspace(0.0, 1.0, size)
    return np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1)


def _fade(axis: Array) -> tuple[Array, float]:
    """Fade out over the shortest way on which no channel turns back; tell where it ends."""
    size = axis.shape[0]
    grid = _grid(size)
    corrected = np.stack(
        [np.moveaxis(np.broadcast_to(axis[:, c], (size,) * 3), -1, c) for c in range(3)], axis=-1
    )
    saturation = np.ptp(grid, axis=-1)[..., np.newaxis]
    near = max(NEAR, 1.5 / (size - 1))
    least = min(0.0, float(np.diff(axis, axis=0).min()))
    for far in FAR:
        share = _smooth_step((far - saturation) / (far - near))
        table = grid + share * (corrected - grid)
        if _least_step(table) >= least - 1e-9:
            break
    return table, far


def _least_step(table: Array) -> float:
    """Give the least rise of a channel from node to node along its own direction."""
    return min(float(np.diff(table[..., c], axis=c).min()) for c in range(3))


def _smooth_step(x: Array) -> Array:
    """Rise from 0 at x ≤ 0 to 1 at x ≥ 1, level at both ends."""
    t = np.clip(x, 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def _levels_by_luminance(
    grid: Array, size: int, luminance: Callable[[Array], Array] | None
) -> Array:
    """Give the level of the grey with each node's luminance, shape (size, size, size)."""
    straight = np.asarray(grid @ LUMINANCE_WEIGHTS)
    if luminance is None:
        return straight
    levels = np.linspace(0.0, 1.0, _TABLE)
    encoded = np.maximum.accumulate(luminance(levels))
    Y = np.interp(grid, levels, encoded) @ LUMINANCE_WEIGHTS
    by_luminance = np.interp(Y, encoded, levels)
    # Next to the axis the encoded values are weighted themselves. The two differ by nothing that
    # could be seen there, and so trilinear reading of the axis stays a straight line.
    cells = np.ptp(grid, axis=-1) * (size - 1)
    share = _smooth_step((cells - 1.0) / 2.0)
    return np.asarray(straight + share * (by_luminance - straight))
