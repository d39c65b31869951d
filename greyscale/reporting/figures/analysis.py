"""Figures of an analysis: the ramp, its drift, its path through the a*b* plane, tone, lights."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.neutrality import VISIBLE_DELTA_CH, to_be_named
from greyscale.analysis.under_lights import UnderLight
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.lights import REFERENCE_LIGHT
from greyscale.reporting.figures.labels import (
    HALVES,
    HEIGHT,
    end_labels,
    label,
    legend_above,
    name_spans,
    tone_bar,
    tone_strips,
)
from greyscale.reporting.style import (
    AIM_LINE,
    EXAGGERATION,
    Look,
    as_measured,
    in_look,
    line,
    marked_every,
    panels,
    swatches,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def ramp_strip(analysis: Analysis, look: Look) -> Figure:
    """Draw three strips by level: measured, neutral at the same L*, and the cast exaggerated."""
    patches = analysis.patches
    neutral = np.column_stack([patches.lab[:, 0], patches.aim_lab[:, 1:]])
    plain = neutral + EXAGGERATION * (patches.lab - neutral)
    strips = (
        ("as it measures", patches.level, patches.lab, 3.0, 1.0),
        ("neutral, same L*", patches.level, neutral, 2.0, 1.0),
        (f"cast × {EXAGGERATION}", patches.level, plain, 0.55, 1.0),
    )
    return tone_strips(look, 2.25 if look.narrow else 2.45, strips, 4, lowest=0.53, under=0.02)


_LEAST_SPAN = 5.0


@in_look
def neutral_drift(analysis: Analysis, look: Look) -> Figure:
    """Draw a*, b* and ΔCh over level, with the aim, the tolerance, and the casts by name."""
    heights = (1.9, 1.9, 1.7, HEIGHT) if look.narrow else (2.2, 2.2, 1.9, HEIGHT)
    figure, (a_panel, b_panel, ch_panel, bar) = panels(look, heights)
    patches = analysis.patches
    limit = analysis.neutrality.tolerance_max_delta_Ch
    measured, aim = patches.lab[:, 1:], patches.aim_lab[:, 1:]
    low = np.minimum(measured.min(axis=0), (aim - limit).min(axis=0))
    high = np.maximum(measured.max(axis=0), (aim + limit).max(axis=0))
    # Both panels show the same height, in CIELAB units.
    span = max(float(np.max(high - low)) * 1.06, _LEAST_SPAN)
    for index, panel in enumerate((a_panel, b_panel)):
        _coordinate(panel, look, analysis, index)
        centre = (low[index] + high[index]) / 2
        panel.set_ylim(centre - span / 2, centre + span / 2)
    tone_bar(bar, patches.level, patches.lab)
    _delta_Ch(ch_panel, look, analysis, heights[2])
    legend_above(a_panel, look)
    return figure


def _coordinate(panel: Axes, look: Look, analysis: Analysis, index: int) -> None:
    name, above, below = HALVES[index]
    patches = analysis.patches
    level, measured, aim = patches.level, patches.lab[:, index + 1], patches.aim_lab[:, index + 1]
    limit = analysis.neutrality.tolerance_max_delta_Ch
    panel.axhline(0.0, color=look.muted, linewidth=0.7)
    panel.plot(level, measured, **line(0).options(look), label="measured", zorder=3)
    panel.plot(level, aim, color=look.ink, linestyle=AIM_LINE, linewidth=1.1, label="neutral aim")
    within = f"within {limit:g} of it"
    panel.fill_between(level, aim - limit, aim + limit, color=look.band, linewidth=0, label=within)
    panel.set_title(f"{name}: above the aim {above}, below it {below}")


def _delta_Ch(panel: Axes, look: Look, analysis: Analysis, height: float) -> None:
    patches, neutrality = analysis.patches, analysis.neutrality
    level, delta_Ch, tones = patches.level, patches.delta_Ch, patches.is_tone
    limit = neutrality.tolerance_max_delta_Ch
    panel.axhspan(0, limit, color=look.band, linewidth=0)
    panel.plot(level[tones], delta_Ch[tones], **line(0).options(look))
    highest = max(float(delta_Ch[tones].max()), limit, 1.0)
    panel.set_ylim(0, 1.08 * highest)
    panel.axhline(VISIBLE_DELTA_CH, color=look.muted, linewidth=1.0, linestyle=(0, (1, 1.5)))
    panel.set_title(f"ΔCh: seen from {VISIBLE_DELTA_CH:g} (dotted), passes to {limit:g} (grey)")
    spans = [(cast.from_level, cast.to_level, cast.hue) for cast in to_be_named(neutrality.casts)]
    name_spans(panel, look, height, spans)


_ARROWS = 5
_MOST_LIGHTS = 3


@in_look
def ab_path(analysis: Analysis, look: Look) -> Figure:
    """Draw b* over a* of the ramp with arrows, against the neutral aim, in a plane for each light.

    Beside the path under another light lies D50's, so that it shows how far each tone moves.
    """
    from matplotlib.figure import Figure

    planes = [_Plane(REFERENCE_LIGHT, analysis.patches.lab, analysis.patches.aim_lab[:, 1:])]
    planes += [_Plane(one.name, one.lab, one.drift.aim_ab) for one in lights_drawn(analysis)]
    columns = len(planes) if len(planes) < 4 - look.narrow else 2
    rows = -(-len(planes) // columns)
    side = (look.width if look.narrow or columns > 1 else 5.6) / columns
    figure = Figure(figsize=(look.width, rows * (side + 0.15) + 0.75), layout="compressed")
    grid = figure.subplots(rows, columns, squeeze=False, sharex=True, sharey=True)
    panels = list(grid.flat)
    limit = analysis.neutrality.tolerance_max_delta_Ch
    reach = [np.concatenate([one.lab[:, 1:], one.aim - limit, one.aim + limit]) for one in planes]
    for panel, plane in zip(panels, planes, strict=False):
        _path(panel, look, plane, small=columns > 1)
        _aim(panel, look, plane.aim, limit)
        if plane is not planes[0]:
            a, b = planes[0].lab[:, 1:].T
            panel.plot(
                a, b, color=look.muted, linewidth=0.9, zorder=1.8,
                label=f"under {REFERENCE_LIGHT}",
            )  # fmt: skip
        _frame(panel, look, np.concatenate(reach), small=columns > 1)
        paths = np.concatenate([planes[0].lab[:, 1:], plane.lab[:, 1:]])
        _ends(panel, look, plane, paths, 0.85 * side)
        panel.set_title(f"Under {label(plane.light, 14 if look.narrow else 32)}")
    for panel in panels[len(planes) :]:
        panel.set_visible(False)
    handles, names = panels[len(planes) - 1].get_legend_handles_labels()
    figure.legend(
        handles, names, loc="outside upper left", ncols=2 if look.narrow else 4, frameon=False,
        handlelength=2.6,
    )  # fmt: skip
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


def _aim(plane: Axes, look: Look, aim: Array, limit: float) -> None:
    """Draw the neutral aim, and shade all that lies within the tolerance of some point of it."""
    from matplotlib.collections import EllipseCollection

    plane.plot(
        aim[:, 0], aim[:, 1], color=look.ink, linestyle=AIM_LINE, linewidth=1.1,
        label="neutral aim", zorder=1.5,
    )  # fmt: skip
    # A sixth of the radius apart, circles make a smooth outline.
    centres = _along(aim, max(2, int(6 * _length(aim)[-1] / limit) + 2))
    across = np.full(len(centres), 2 * limit)
    circles = EllipseCollection(
        across, across, np.zeros_like(across), units="xy", offsets=centres,
        offset_transform=plane.transData, facecolors=look.band, linewidths=0, zorder=0.4,
    )  # fmt: skip
    plane.add_collection(circles)
    plane.fill([], [], color=look.band, linewidth=0, label=f"within {limit:g} of it")


def _length(ab: Array) -> Array:
    """Return the length of a path up to each of its points, shape (n,)."""
    steps = np.hypot(*np.diff(ab, axis=0).T)
    return np.concatenate([[0.0], np.cumsum(steps)])


def _along(ab: Array, count: int) -> Array:
    """Return points at equal lengths along a path, shape (count, 2)."""
    length = _length(ab)
    wanted = np.linspace(0.0, length[-1], count)
    return np.column_stack([np.interp(wanted, length, values) for values in ab.T])


def _path(panel: Axes, look: Look, plane: _Plane, small: bool) -> None:
    """Draw the ramp's path, and each tone as it is seen under the plane's light."""
    ab = plane.lab[:, 1:]
    panel.plot(*ab.T, color=look.ink, linewidth=1.3, label="measured", zorder=2)
    size = 34 if not small else 10 if look.narrow else 20
    _arrows(panel, look, ab, 2.2 * size**0.5)
    tones = panel.scatter(
        ab[:, 0], ab[:, 1], s=size, c=[swatch.colour for swatch in swatches(plane.lab)],
        edgecolors=look.ink, linewidths=0.8, zorder=3,
    )  # fmt: skip
    as_measured(tones)


def _arrows(plane: Axes, look: Look, ab: Array, size: float) -> None:
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
                "arrowstyle": "-|>", "color": look.ink, "mutation_scale": size,
                "shrinkA": 0, "shrinkB": 0,
            },
        )  # fmt: skip


def _frame(plane: Axes, look: Look, ab: Array, small: bool) -> None:
    """Centre the plane on what is drawn, zero within, and name its four directions."""
    low = np.minimum(ab.min(axis=0), 0) - 0.5
    high = np.maximum(ab.max(axis=0), 0) + 0.5
    centre, half = (low + high) / 2, float(np.max(high - low)) / 2
    plane.set_xlim(centre[0] - half, centre[0] + half)
    plane.set_ylim(centre[1] - half, centre[1] + half)
    plane.set_aspect("equal")
    plane.axhline(0, color=look.muted, linewidth=0.7)
    plane.axvline(0, color=look.muted, linewidth=0.7)
    gap = "  " if small else "      "
    plane.set_xlabel(f"← greenish{gap}a*{gap}reddish →")
    plane.set_ylabel(f"← bluish{gap}b*{gap}yellowish →")
    plane.locator_params(integer=True, nbins=5)
    plane.label_outer()


def _ends(panel: Axes, look: Look, plane: _Plane, ab: Array, side: float) -> None:
    """Name paper and black, each on the side where least is drawn, and apart from each other.

    Parameters
    ----------
    ab
        Shape (m, 2): all points of all paths.
    side
        Of the plane, in inches.
    """
    from matplotlib import rcParams

    low, high = np.transpose([panel.get_xlim(), panel.get_ylim()])
    in_points = 72 * side / (high - low)
    drawn = (np.concatenate([_along(ab, 200), ab]) - low) * in_points
    # Half of what five bold letters take, and a little room about them.
    half = rcParams["font.size"] * np.array([1.9, 0.75])
    angles = np.radians(np.arange(0, 360, 15))
    sides = np.column_stack([np.cos(angles), np.sin(angles)])
    # A ground of its own, and no halo: that would be drawn twice, letter by letter.
    ground = {"facecolor": look.ground, "linewidth": 0, "pad": 0.8, "alpha": 0.8}
    placed: list[Array] = []
    for name, row in (("paper", plane.lab[:, 0].argmax()), ("black", plane.lab[:, 0].argmin())):
        end = (plane.lab[row, 1:] - low) * in_points
        centres = end + (half + 4) * sides
        off = np.abs(centres[:, np.newaxis] - drawn)
        covered = np.sum(np.all(off < half, axis=2), axis=1)
        out = np.any((centres < half) | (centres > 72 * side - half), axis=1)
        for other in placed:
            out |= np.all(np.abs(centres - other) < 2 * half, axis=1)
        best = np.lexsort((-np.min(np.max(off / half, axis=2), axis=1), covered, out))[0]
        placed.append(centres[best])
        panel.annotate(
            name, (centres[best] / in_points + low).tolist(), zorder=5, fontweight="bold",
            bbox=ground, ha="center", va="center",
        )  # fmt: skip


@in_look
def tone_curve(analysis: Analysis, look: Look) -> Figure:
    """Draw L* over level with its aim, and below it measured minus aim."""
    heights = (2.9, 1.8, HEIGHT) if look.narrow else (3.3, 2.0, HEIGHT)
    figure, (curve, error, bar) = panels(look, heights)
    patches, tone = analysis.patches, analysis.tone
    level, aimed = patches.level, patches.aim_lab[:, 0]
    aim_line: dict[str, Any] = {"color": look.ink, "linestyle": AIM_LINE, "linewidth": 1.1}
    curve.plot(level, patches.lab[:, 0], **line(0).options(look), label="measured", zorder=3)
    curve.plot(level, aimed, **aim_line, label=f"aim: {label(tone.aim)}")
    curve.set_title("L* of each level")
    legend_above(curve, look)
    error.axhline(0.0, **aim_line)
    error.plot(level, patches.delta_L, **line(0).options(look))
    reach = max(1.15 * float(np.abs(patches.delta_L).max()), 1.0)
    error.set_ylim(-reach, reach)
    error.set_title("ΔL*: above 0 lighter than the aim, below darker")
    for reversal in tone.reversals:
        row = int(np.argmin(np.abs(level - reversal)))
        error.annotate(
            "falls", (reversal, patches.delta_L[row]), (0, -14), textcoords="offset points",
            ha="center", va="top", arrowprops={"arrowstyle": "->", "color": look.ink},
        )  # fmt: skip
    tone_bar(bar, level, patches.lab, marked=False)
    return figure


@in_look
def metamerism_by_light(analysis: Analysis, look: Look) -> Figure:
    """Draw the metamerism index over level, a line for each light but D50, where it is 0.

    Raises
    ------
    ValueError
        If the analysis has no lights.
    """
    if analysis.lights is None:
        raise ValueError("without spectra there is no metamerism index to draw")
    heights = (2.6 if look.narrow else 3.0, HEIGHT)
    figure, (panel, bar) = panels(look, heights)
    level = analysis.patches.level
    tone_bar(bar, level, analysis.patches.lab)
    lights = [light for light in analysis.lights if light.name != REFERENCE_LIGHT]
    ends = []
    for index, light in enumerate(lights, start=1):
        options = line(index).options(look)
        values, marks = light.metamerism_index, marked_every(len(level), index)
        panel.plot(level, values, **options, markevery=marks)
        ends.append((float(level[0]), float(values[0]), light.name, options["color"]))
    highest = max([float(light.metamerism_index.max()) for light in lights], default=0.0)
    panel.set_ylim(0, 1.12 * max(highest, 1.0))
    panel.set_title("Metamerism index (ΔE00), against D50")
    end_labels(panel, look, heights[0], ends)
    return figure
