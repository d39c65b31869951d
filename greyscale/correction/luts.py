"""The correction as lookup tables: 1D and 3D, as .cube and as Common LUT Format files."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from greyscale import __version__
from greyscale.colorimetry.arrays import Array, columns_at, equal_channels, smooth_step
from greyscale.colorimetry.cielab import delta_E_2000
from greyscale.colorimetry.display import LUMINANCE_WEIGHTS
from greyscale.correction.record import Curve

# The grey axis of a 3D LUT: what its nodes hold, and how near to the curve they come.
#
# A 3D LUT is read by straight lines between its nodes, so that a curve, which bends, can only
# be met as well as the nodes are many. The values at the nodes are therefore not taken from the
# curve but fitted to it.

LabOf = Callable[[Array], Array]
"""What a printer makes of device values (n, 3): CIELAB (n, 3)."""

_SAMPLES = 4096
_PLACES = 193
"""Levels at which the printer is asked how it answers; between them that changes evenly."""

_NUDGE = 0.002
_LIGHT = 0.85


@dataclass(frozen=True, eq=False)
class GreyAxis:
    """A curve on the grey axis, and how the printer answers to small departures from it.

    Attributes
    ----------
    levels
        Shape (n,): even steps from 0 to 1.
    sent
        Shape (n, 3): what the curve sends.
    lab
        Shape (n, 3): what is predicted.
    slopes
        Shape (n, 3, 3): change of L*, a*, b* (rows) with R, G, B (columns).
    priority
        Shape (n,): how much each tone counts.
    """

    levels: Array
    sent: Array
    lab: Array
    slopes: Array
    priority: Array

    @staticmethod
    def of(curve: Curve, lab_of: LabOf, priority: Array | None = None) -> GreyAxis:
        """Ask the printer along the curve, as seldom as will do.

        Parameters
        ----------
        priority
            Shape (m,): how much each of m evenly spaced tones counts; None counts all alike.
        """
        levels = np.linspace(0.0, 1.0, _SAMPLES)
        places = np.linspace(0.0, 1.0, _PLACES)
        at = curve.apply(equal_channels(places))
        steps = _NUDGE * np.eye(3)
        up = np.clip(at[:, np.newaxis] + steps, 0.0, 1.0)
        down = np.clip(at[:, np.newaxis] - steps, 0.0, 1.0)
        answers = lab_of(np.concatenate([up, down]).reshape(-1, 3)).reshape(2, _PLACES, 3, 3)
        moved = np.einsum("pcc->pc", up - down)
        slopes = np.swapaxes((answers[0] - answers[1]) / moved[..., np.newaxis], 1, 2)
        slopes = _not_flatter_towards_paper(slopes, places)
        between = columns_at(levels, places, slopes.reshape(_PLACES, 9))
        return GreyAxis(
            levels,
            curve.apply(equal_channels(levels)),
            curve.predict(levels),
            between.reshape(_SAMPLES, 3, 3),
            np.ones(_SAMPLES)
            if priority is None
            else np.interp(levels, even_knots(priority.size), priority),
        )

    def nodes(self, knots: Array) -> Array:
        """Fit R, G, B at the knots to the curve, shape (size, 3).

        Least squares over the whole curve, by priority, leave about half the largest difference
        that nodes on the curve would leave. Black and white are the curve's own: bare paper stays
        bare.

        Parameters
        ----------
        knots
            Shape (size,): levels of the nodes, rising from 0 to 1.
        """
        # Each node's share in the value at each level.
        basis = columns_at(self.levels, knots, np.eye(knots.size))
        nodes = np.empty((knots.size, 3))
        nodes[0], nodes[-1] = self.sent[0], self.sent[-1]
        rest = self.sent - basis[:, [0, -1]] @ nodes[[0, -1]]
        inner = basis[:, 1:-1]
        weighted = inner.T * self.priority
        nodes[1:-1] = np.linalg.solve(weighted @ inner, weighted @ rest)
        return np.clip(nodes, 0.0, 1.0)

    def differences(self, knots: Array) -> Array:
        """Return the CIEDE2000 differences in print of a LUT with these knots, shape (n,)."""
        read = columns_at(self.levels, knots, self.nodes(knots))
        change = np.einsum("nij,nj->ni", self.slopes, read - self.sent)
        return delta_E_2000(self.lab + change, self.lab)

    def difference(self, knots: Array) -> float:
        """Return the largest of them."""
        return float(self.differences(knots).max())


def even_knots(size: int) -> Array:
    """Return the levels of nodes in even steps, shape (size,)."""
    return np.linspace(0.0, 1.0, size)


def _not_flatter_towards_paper(slopes: Array, places: Array) -> Array:
    """Keep the slopes of light tones up to paper.

    The first traces of ink show as much as more ink does, but a model that rests on few patches
    there can be too flat, and the LUT would look closer than it is.
    """
    light = places > _LIGHT
    held = slopes[light][0]
    kept = slopes.copy()
    kept[light] = np.where(np.abs(held) > np.abs(slopes[light]), held, slopes[light])
    return kept


# The correction as a 3D LUT for RGB pictures: the curve on the grey axis, fading out off it.

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

_TABLE = 4096
_BACKWARDS = 0.003  # Of the range: a channel that falls by less wavers with the noise.


@dataclass(frozen=True, eq=False)
class Lut3D:
    """A 3D LUT.

    Attributes
    ----------
    table
        Shape (size, size, size, 3), indexed by red, green, blue; R, G, B from 0 to 1.
    far
        Saturation from which nothing is changed; None where all goes by luminance.
    """

    table: Array
    far: float | None

    @property
    def size(self) -> int:
        """Nodes along each edge."""
        return len(self.table)


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
    # Channel by channel, a channel of the curve that runs backwards would fold the table.
    by_level = any(backwards(axis.levels, axis.sent))
    return _fade(axis.nodes(knots), knots, by_level)


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


def lut_3d_by_luminance(axis: GreyAxis, size: int, luminance: Callable[[Array], Array]) -> Lut3D:
    """Make the LUT that prints every colour as the grey of its luminance.

    For a toned monochrome picture: its own tint goes, the correction's aim takes its place.

    Parameters
    ----------
    axis
        The curve on the grey axis.
    size
        Nodes along each edge.
    luminance
        Gives the luminance, 0 to 1, of encoded values, 0 to 1, rising.
    """
    knots = even_knots(size)
    levels = _levels_by_luminance(knots, luminance)
    return Lut3D(columns_at(levels, knots, axis.nodes(knots)), None)


def _grid(steps: Array) -> Array:
    """Return the values of all nodes, shape (size, size, size, 3)."""
    return np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1)


def _fade(axis: Array, knots: Array, by_level: bool) -> Lut3D:
    """Fade out over the shortest way on which no channel turns back; tell where it ends."""
    size = knots.size
    grid = _grid(knots)
    corrected = np.stack(
        [np.moveaxis(np.broadcast_to(axis[:, c], (size,) * 3), -1, c) for c in range(3)], axis=-1
    )
    if by_level:
        level = grid.mean(axis=-1)
        corrected = grid + (columns_at(level, knots, axis) - level[..., np.newaxis])
    saturation = np.ptp(grid, axis=-1)[..., np.newaxis]
    near = max(NEAR, 1.01 * float(np.diff(knots).max()))
    least = min(0.0, float(np.diff(axis, axis=0).min()))
    for far in FAR:
        share = smooth_step((far - saturation) / (far - near))
        table = grid + share * (corrected - grid)
        # The least rise of a channel from node to node along its own direction.
        step = min(float(np.diff(table[..., c], axis=c).min()) for c in range(3))
        if least_determinant(table) > 0 if by_level else step >= least - 1e-9:
            break
    return Lut3D(np.clip(table, 0.0, 1.0), far)


def _levels_by_luminance(knots: Array, luminance: Callable[[Array], Array]) -> Array:
    """Return the level of the grey with each node's luminance, shape (size, size, size)."""
    grid = _grid(knots)
    straight = grid @ LUMINANCE_WEIGHTS
    levels = np.linspace(0.0, 1.0, _TABLE)
    encoded = np.maximum.accumulate(luminance(levels))
    Y = np.interp(grid, levels, encoded) @ LUMINANCE_WEIGHTS
    by_luminance = np.interp(Y, encoded, levels)
    # Next to the axis the encoded values are weighted themselves. The two differ by nothing that
    # could be seen there, and so trilinear reading of the axis stays a straight line.
    cells = np.ptp(_grid(np.arange(knots.size, dtype=np.float64)), axis=-1)
    share = smooth_step((cells - 1.0) / 2.0)
    return np.asarray(straight + share * (by_luminance - straight))


# How a LUT is written as a .cube file, so that any program that reads .cube can take it.

DECIMALS = 7
"""Digits after the point: 1e-7 is far below one step of a 16-bit picture (1.5e-5)."""


def write_cube(table: Array, path: Path, title: str, comments: Sequence[str] = ()) -> None:
    """Write a .cube file: red changes fastest.

    `colour` writes the same bytes, but takes seconds for the nodes of a 3D LUT.

    Parameters
    ----------
    table
        Three channels, shape (points, 3), for values from 0 to 1 in equal steps; or nodes, shape
        (size, size, size, 3) indexed by red, green, blue.
    title, comments
        Reduced to what a .cube file can hold (see `cube_text`).
    """
    size = "LUT_3D_SIZE" if table.ndim > 2 else "LUT_1D_SIZE"
    rows = table.reshape(-1, 3, order="F") if table.ndim > 2 else table
    row = " ".join([f"%.{DECIMALS}f"] * 3) + "\n"
    head = [f'TITLE "{cube_text(title)}"', *(f"# {cube_text(line)}" for line in comments)]
    head.append(f"{size} {len(table)}\n")
    path.write_text(
        "\n".join(head) + row * len(rows) % tuple(rows.ravel().tolist()), encoding="ascii"
    )


def cube_text(text: str) -> str:
    """Reduce a text to one line of ASCII without quotation marks, as every reader can take it.

    Examples
    --------
    >>> cube_text('Baryta, "première"')
    "Baryta, 'premiere'"
    """
    plain = text.translate({0xDF: "ss", 0xD7: "x", 0x2013: "-", 0x2014: "-"})
    plain = unicodedata.normalize("NFKD", plain)
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = plain.encode("ascii", "replace").decode("ascii")
    return " ".join(plain.replace('"', "'").split())


_SMPTE, _AMPAS = "http://www.smpte-ra.org/ns/2136-1/2024", "urn:AMPAS:CLF:v3.0"


def lut_1d(table: Array) -> Any:
    """Return a 1D LUT of OpenColorIO, shape (points, 3), straight between the points."""
    import PyOpenColorIO

    lut = PyOpenColorIO.Lut1DTransform(len(table), inputHalfDomain=False)
    lut.setInterpolation(PyOpenColorIO.INTERP_LINEAR)
    lut.setData(table.astype(np.float32).ravel())
    return lut


def write_clf(
    table: Array,
    path: Path,
    *,
    identifier: str,
    name: str,
    description: Sequence[str] = (),
    takes: str,
    gives: str,
) -> None:
    """Write a 1D LUT of three channels, shape (points, 3), through OpenColorIO.

    Parameters
    ----------
    identifier
        One of its own for every correction.
    description
        Lines about printer, paper, settings, aim.
    takes, gives
        What the values are before and after.
    """
    import PyOpenColorIO

    lut = lut_1d(table)
    lut.setFileOutputBitDepth(PyOpenColorIO.BIT_DEPTH_F32)
    lut.getFormatMetadata().setName("correction")
    processes = PyOpenColorIO.GroupTransform()
    processes.appendTransform(lut)
    head = processes.getFormatMetadata()
    head.setID(identifier)
    head.setName(xml_text(name))
    for line in description:
        head.addChildElement("Description", xml_text(line))
    head.addChildElement("InputDescriptor", xml_text(takes))
    head.addChildElement("OutputDescriptor", xml_text(gives))
    head.addChildElement("Info", "")
    *_, info = head.getChildElements()
    info.addChildElement("AppRelease", f"greyscale {__version__}")
    content = processes.write(
        "Academy/ASC Common LUT Format", config=PyOpenColorIO.Config.CreateRaw()
    )
    # Version 3 has one content under two names; the elder one is known to every reader.
    path.write_text(content.replace(_SMPTE, _AMPAS), encoding="utf-8")


def xml_text(text: str) -> str:
    """Leave out the control characters that XML cannot hold."""
    return "".join(c for c in text if c in "\t\n" or ord(c) >= 0x20)
