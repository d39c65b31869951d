"""Figure: the way of the ramp through the a*b* plane, from paper to black, light by light."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.metamerism import REFERENCE_LIGHT, UnderLight
from greyscale.colorimetry.arrays import Array
from greyscale.reporting.figures.canvas import Canvas, Pen, line_outline, mark_outline
from greyscale.reporting.figures.labels import label
from greyscale.reporting.figures.plot import Figure, Panel, grid_of_panels
from greyscale.reporting.style import AIM_LINE, LIGHT, Look
from greyscale.reporting.swatches import swatches

_ARROWS = 5
_MOST_LIGHTS = 3


def ab_path(analysis: Analysis, look: Look = LIGHT) -> Figure:
    """Draw b* over a* of the ramp with arrows, against the neutral aim, in a plane for each light.

    Beside the path under another light lies D50's, so that it shows how far each tone moves.
    """
    planes = [_Plane(REFERENCE_LIGHT, analysis.patches.lab, analysis.patches.aim_lab[:, 1:])]
    planes += [_Plane(one.name, one.lab, one.drift.aim_ab) for one in lights_drawn(analysis)]
    columns = len(planes) if len(planes) < 4 - look.narrow else 2
    rows = -(-len(planes) // columns)
    side = (look.width if look.narrow or columns > 1 else 5.6) / columns
    figure, panels = grid_of_panels(
        look, rows * (side + 0.15) + 0.75, len(planes), columns, square=True
    )
    limit = analysis.neutrality.tolerance_max_delta_Ch
    reach = [np.concatenate([one.lab[:, 1:], one.aim - limit, one.aim + limit]) for one in planes]
    d50 = planes[0].lab[:, 1:]
    for panel, plane in zip(panels, planes, strict=True):
        _path(panel, look, plane, small=columns > 1)
        _aim(panel, look, plane.aim, limit)
        if plane is not planes[0]:
            name = f"under {REFERENCE_LIGHT}"
            panel.plot(*d50.T, color=look.muted, width=0.9, order=1.8, label=name)
        _frame(panel, look, np.concatenate(reach), small=columns > 1)
        _ends(panel, look, plane, np.concatenate([d50, plane.lab[:, 1:]]))
        panel.title = f"Under {label(plane.light, 14 if look.narrow else 32)}"
    figure.set_legend(panels[-1], 2 if look.narrow else 4)
    return figure


@dataclass(frozen=True, eq=False)
class _Plane:
    """What one plane shows: a light, the ramp's CIELAB under it, the a*, b* aimed at."""

    light: str
    lab: Array
    aim: Array


def lights_drawn(analysis: Analysis) -> tuple[UnderLight, ...]:
    """Return the lights whose paths are drawn beside D50's: those that change the greys most."""
    others = [light for light in analysis.lights or () if light.name != REFERENCE_LIGHT]
    most = sorted(others, key=lambda light: -light.max_metamerism_index)[:_MOST_LIGHTS]
    return tuple(light for light in others if light in most)


def _aim(plane: Panel, look: Look, aim: Array, limit: float) -> None:
    """Draw the neutral aim, and shade all that lies within the tolerance of some point of it."""
    plane.plot(*aim.T, color=look.ink, dashes=AIM_LINE, width=1.1, label="neutral aim", order=1.5)

    def shade(canvas: Canvas) -> None:
        # A stroke with round ends is what lies so near to its middle.
        (left, _), (right, _) = plane.at([0.0, 2 * limit], 0.0)
        way = line_outline(np.vstack([plane.at(*aim.T), plane.at(*aim[-1])]))
        canvas.draw(way, Pen(stroke=look.band, width=float(right - left), round=True), plane.box)

    plane.add(0.4, shade)
    plane.shade_in_legend(look.band, f"within {limit:g} of it")


def _length(ab: Array) -> Array:
    """Return the length of a path up to each of its points, shape (n,)."""
    steps = np.hypot(*np.diff(ab, axis=0).T)
    return np.concatenate([[0.0], np.cumsum(steps)])


def _path(panel: Panel, look: Look, plane: _Plane, small: bool) -> None:
    """Draw the ramp's path, and each tone as it is seen under the plane's light."""
    ab = plane.lab[:, 1:]
    panel.plot(*ab.T, color=look.ink, width=1.3, label="measured")
    size = 34 if not small else 10 if look.narrow else 20
    _arrows(panel, look, ab, 2.2 * size**0.5)
    disc = mark_outline("o")
    disc = type(disc)(disc.vertices * size**0.5, disc.codes)
    colours = [swatch.colour for swatch in swatches(plane.lab)]

    def tones(canvas: Canvas) -> None:
        for place, colour in zip(panel.at(*ab.T), colours, strict=True):
            canvas.marks(disc, Pen(colour, look.ink, 0.8, measured=True), place[np.newaxis])

    panel.add(3.0, tones)


def _arrows(plane: Panel, look: Look, ab: Array, size: float) -> None:
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
        plane.arrow(start + 0.4 * step, start + 0.62 * step, size)


def _frame(plane: Panel, look: Look, ab: Array, small: bool) -> None:
    """Centre the plane on what is drawn, zero within, and name its four directions."""
    low = np.minimum(ab.min(axis=0), 0) - 0.5
    high = np.maximum(ab.max(axis=0), 0) + 0.5
    centre, half = (low + high) / 2, float(np.max(high - low)) / 2
    plane.set_limits(x=(centre[0] - half, centre[0] + half), y=(centre[1] - half, centre[1] + half))
    plane.level_line(0.0, look.muted, 0.7)
    plane.upright_line(0.0, look.muted, 0.7)
    gap = "  " if small else "      "
    for axis in (plane.x, plane.y):
        axis.whole, axis.most = True, 5
    if plane.x_numbers:
        plane.x_label = f"← greenish{gap}a*{gap}reddish →"
    if plane.y_numbers:
        plane.y_label = f"← bluish{gap}b*{gap}yellowish →"


def _ends(panel: Panel, look: Look, plane: _Plane, ab: Array) -> None:
    """Name paper and black, each on the side where least is drawn.

    Parameters
    ----------
    ab
        Shape (m, 2): all points of all paths.
    """
    # About a label's distance, as a share of the plane.
    low, high = panel.x.reach
    distance = 0.06 * (high - low)
    angles = np.radians(np.arange(0, 360, 45))
    sides = np.column_stack([np.cos(angles), np.sin(angles)])
    for name, row in (("paper", plane.lab[:, 0].argmax()), ("black", plane.lab[:, 0].argmin())):
        end = plane.lab[row, 1:]
        # Labels are wider than high, so that they reach farther sideways.
        centres = end + distance * sides * [1.5, 1.0]
        room = np.hypot(*(centres[:, np.newaxis] - ab).transpose(2, 0, 1)).min(axis=1)
        side = sides[np.argmax(room)]
        panel.text(
            end[0], end[1], name, offset=(side[0] * 8, side[1] * 8), bold=True,
            ground=look.ground, across=_anchor(side[0], "left", "right"),
            down=_anchor(side[1], "bottom", "top"),
        )  # fmt: skip


def _anchor(share: float, forward: str, backward: str) -> str:
    if abs(share) < 0.4:
        return "center"
    return forward if share > 0 else backward
