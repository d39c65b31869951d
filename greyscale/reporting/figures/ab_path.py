"""Figure: the way of the ramp through the a*b* plane, from paper to black, light by light."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.analyse import Analysis, PatchTable
from greyscale.analysis.metamerism import REFERENCE_LIGHT, UnderLight
from greyscale.colorimetry.arrays import Array
from greyscale.reporting.figures.labels import label, legend_above
from greyscale.reporting.style import AIM_LINE, Look, as_measured, in_look, line, marked_every
from greyscale.reporting.swatches import swatches

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_ARROWS = 5
_MOST_LIGHTS = 3


@in_look
def ab_path(analysis: Analysis, look: Look) -> Figure:
    """Draw b* over a* of the ramp with arrows, the neutral aim, and the other lights' paths."""
    from matplotlib.figure import Figure

    height = look.width + 0.75 if look.narrow else 5.6
    figure = Figure(figsize=(look.width, height), layout="constrained")
    plane = figure.subplots()
    paths = _paths(analysis)
    for index, name, lab in paths:
        _path(plane, look, index, name, lab)
    _aim(plane, look, analysis)
    _tones(plane, look, analysis.patches.lab)
    everything = np.concatenate([lab[:, 1:] for _, _, lab in paths])
    aim, limit = analysis.patches.aim_lab[:, 1:], analysis.neutrality.tolerance_max_delta_Ch
    _frame(plane, look, np.concatenate([everything, aim - limit, aim + limit]))
    _ends(plane, look, analysis.patches, everything)
    if look.narrow:
        legend_above(plane, look, 2)
    else:
        figure.legend(loc="outside right upper", frameon=False, handlelength=2.6, labelspacing=0.7)
    return figure


def lights_drawn(analysis: Analysis) -> tuple[UnderLight, ...]:
    """Give the lights whose paths are drawn beside D50's: those that change the greys most."""
    others = [light for light in analysis.lights or () if light.name != REFERENCE_LIGHT]
    most = sorted(others, key=lambda light: -light.max_metamerism_index)[:_MOST_LIGHTS]
    return tuple(light for light in others if light in most)


def _paths(analysis: Analysis) -> list[tuple[int, str, Array]]:
    """Give each path's line style, name and CIELAB; D50's first."""
    others = [light.name for light in analysis.lights or () if light.name != REFERENCE_LIGHT]
    # A light has the same style as in the figure that draws them all.
    return [
        (0, REFERENCE_LIGHT, analysis.patches.lab),
        *((1 + others.index(one.name), one.name, one.lab) for one in lights_drawn(analysis)),
    ]


def _aim(plane: Axes, look: Look, analysis: Analysis) -> None:
    """Draw the neutral aim, and shade all that lies within the tolerance of some point of it."""
    from matplotlib.collections import EllipseCollection

    limit = analysis.neutrality.tolerance_max_delta_Ch
    aim = analysis.patches.aim_lab[:, 1:]
    plane.plot(
        aim[:, 0], aim[:, 1], color=look.ink, linestyle=AIM_LINE, linewidth=1.1,
        label="neutral aim", zorder=1.5,
    )  # fmt: skip
    # An eighth of the radius apart, circles make a smooth outline.
    centres = _along(aim, max(2, int(8 * _length(aim)[-1] / limit) + 2))
    across = np.full(len(centres), 2 * limit)
    plane.add_collection(
        EllipseCollection(
            across,
            across,
            np.zeros_like(across),
            units="xy",
            offsets=centres,
            offset_transform=plane.transData,
            facecolors=look.band,
            linewidths=0,
            zorder=0.4,
        )
    )
    plane.fill([], [], color=look.band, linewidth=0, label=f"within {limit:g} of it")


def _length(ab: Array) -> Array:
    """Give the length of a path up to each of its points, shape (n,)."""
    steps = np.hypot(*np.diff(ab, axis=0).T)
    return np.concatenate([[0.0], np.cumsum(steps)])


def _along(ab: Array, count: int) -> Array:
    """Give points at equal lengths along a path, shape (count, 2)."""
    length = _length(ab)
    wanted = np.linspace(0.0, length[-1], count)
    return np.column_stack([np.interp(wanted, length, values) for values in ab.T])


def _path(plane: Axes, look: Look, index: int, name: str, lab: Array) -> None:
    options = line(index).options(look)
    if index == 0:
        options |= {"marker": "", "linewidth": 1.3}
        _arrows(plane, look, lab[:, 1:])
    else:
        options |= {
            "linewidth": 1.1,
            "markersize": 0.85 * options["markersize"],
            "markevery": marked_every(len(lab), index),
        }
    shown = f"under {label(name, 18)}"
    plane.plot(lab[:, 1], lab[:, 2], **options, label=shown, zorder=2)


def _arrows(plane: Axes, look: Look, ab: Array) -> None:
    """Show the way from paper to black by arrow heads, on the longest steps of each stretch."""
    length = _length(ab)
    bounds = np.linspace(0.0, length[-1], _ARROWS + 1)
    middles = (length[1:] + length[:-1]) / 2
    for low, high in pairwise(bounds):
        steps = np.flatnonzero((middles >= low) & (middles <= high))
        if steps.size == 0:
            continue
        row = steps[np.argmax(np.diff(length)[steps])]
        start, step = ab[row], ab[row + 1] - ab[row]
        plane.annotate(
            "", start + 0.62 * step, start + 0.4 * step, zorder=4,
            arrowprops={
                "arrowstyle": "-|>", "color": look.ink, "mutation_scale": 13,
                "shrinkA": 0, "shrinkB": 0,
            },
        )  # fmt: skip


def _tones(plane: Axes, look: Look, lab: Array) -> None:
    tones = plane.scatter(
        lab[:, 1], lab[:, 2], s=34, c=[swatch.colour for swatch in swatches(lab)],
        edgecolors=look.ink, linewidths=0.8, zorder=3,
    )  # fmt: skip
    as_measured(tones)


def _frame(plane: Axes, look: Look, ab: Array) -> None:
    """Centre the plane on what is drawn, zero within, and name its four directions."""
    low = np.minimum(ab.min(axis=0), 0) - 0.5
    high = np.maximum(ab.max(axis=0), 0) + 0.5
    centre, half = (low + high) / 2, float(np.max(high - low)) / 2
    plane.set_xlim(centre[0] - half, centre[0] + half)
    plane.set_ylim(centre[1] - half, centre[1] + half)
    plane.set_aspect("equal")
    plane.axhline(0, color=look.muted, linewidth=0.7)
    plane.axvline(0, color=look.muted, linewidth=0.7)
    plane.set_xlabel("← greenish      a*      reddish →")
    plane.set_ylabel("← bluish      b*      yellowish →")


def _ends(plane: Axes, look: Look, patches: PatchTable, ab: Array) -> None:
    """Name paper and black, each on the side where least is drawn.

    Parameters
    ----------
    ab
        Shape (m, 2): all points of all paths.
    """
    from matplotlib.patheffects import withStroke

    # About a label's distance, as a share of the plane.
    distance = 0.06 * (plane.get_xlim()[1] - plane.get_xlim()[0])
    halo = [withStroke(linewidth=2.5, foreground=look.ground)]
    angles = np.radians(np.arange(0, 360, 45))
    sides = np.column_stack([np.cos(angles), np.sin(angles)])
    for name, row in (("paper", patches.paper_index), ("black", patches.black_index)):
        end = patches.lab[row, 1:]
        # Labels are wider than high, so that they reach farther sideways.
        centres = end + distance * sides * [1.5, 1.0]
        room = np.hypot(*(centres[:, np.newaxis] - ab).transpose(2, 0, 1)).min(axis=1)
        side = sides[np.argmax(room)]
        plane.annotate(
            name, (end[0], end[1]), (side[0] * 8, side[1] * 8),
            textcoords="offset points", zorder=5, fontweight="bold", path_effects=halo,
            ha=_anchor(side[0], "left", "right"), va=_anchor(side[1], "bottom", "top"),
        )  # fmt: skip


def _anchor(share: float, forward: str, backward: str) -> str:
    if abs(share) < 0.4:
        return "center"
    return forward if share > 0 else backward
