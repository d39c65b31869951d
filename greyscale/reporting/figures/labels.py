"""Words in figures: names beside what they name, kept from printing over each other."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.reporting.style import Look, as_measured, boundaries, swatches

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


# Mean width of DejaVu Sans' letters, and the height of a line, in font sizes.
_LETTER = 0.6
_LINE = 1.35


def label(text: str, limit: int = 24) -> str:
    """Make a name from a file fit for a figure: one line, no control characters, shortened.

    Examples
    --------
    >>> label("harbour\\nramp")
    'harbour ramp'
    >>> label("a very long name of a lamp in the second hall", 20)
    'a very long name of…'
    """
    drawable = "".join(c if unicodedata.category(c)[0] != "C" else " " for c in text)
    drawable = " ".join(drawable.split())
    return drawable if len(drawable) <= limit else drawable[: limit - 1].rstrip() + "…"


def two_lines(text: str, width: int) -> str:
    """Make a name fit for a narrow place: in one line or two of so many letters, then shortened.

    Examples
    --------
    >>> two_lines("unbleached cotton", 12)
    'unbleached\\ncotton'
    >>> two_lines("LED-B1", 12)
    'LED-B1'
    """
    from textwrap import wrap

    first, *others = wrap(label(text, 2 * width), width) or [""]
    return f"{first}\n{label(' '.join(others), width)}" if others else first


def legend_above(panel: Axes, look: Look, columns: int = 4) -> None:
    """Say what each kind of line means, in a row above the panel's title."""
    from matplotlib.transforms import offset_copy

    rise = (2.5 if panel.get_title("left") else 0.8) * look.font_size
    figure = panel.get_figure(root=True)
    panel.legend(
        loc="lower left",
        bbox_to_anchor=(0, 1),
        bbox_transform=offset_copy(panel.transAxes, figure, y=rise, units="points"),
        ncols=columns,
        frameon=False,
        borderpad=0,
        borderaxespad=0,
        columnspacing=1.0 if look.narrow else 1.5,
        handlelength=2.0 if look.narrow else 2.4,
        handletextpad=0.6,
    )


def name_spans(
    panel: Axes, look: Look, height: float, spans: Sequence[tuple[float, float, str]]
) -> None:
    """Name stretches of the x axis by brackets above all that is drawn in a panel.

    Parameters
    ----------
    panel
        With its limits set; the upper one is raised to make room.
    height
        Of the panel, inches.
    spans
        From, to, name. A name that would print over its neighbour's goes one row up.
    """
    low, high = panel.get_xlim()
    letter = _LETTER * look.font_size * (high - low) / (0.92 * look.width * 72)
    ends: list[float] = []
    placed = []
    for start, stop, name in sorted(spans):
        half = (len(name) + 1) / 2 * letter
        centre = min(max((start + stop) / 2, low + half), high - half)
        row = next((r for r, end in enumerate(ends) if end <= centre - half), len(ends))
        ends[row : row + 1] = [centre + half]
        placed.append((start, stop, name, centre, row))
    bottom, top = panel.get_ylim()
    # The share of the panel that one row of names takes.
    share = 1.25 * _LINE * look.font_size / (0.75 * height * 72)
    step = share * (top - bottom) / max(1 - share * len(ends), 0.3)
    panel.set_ylim(bottom, top + step * len(ends))
    for start, stop, name, centre, row in placed:
        foot = top + step * (row + 0.22)
        panel.plot([start, stop], [foot, foot], color=look.ink, linewidth=2.2, marker="")
        panel.annotate(
            name, (centre, foot), (0, 2.5), textcoords="offset points", ha="center", va="bottom"
        )


def spread(
    positions: Sequence[float], gap: float, low: float = -math.inf, high: float = math.inf
) -> list[float]:
    """Move labels apart that would print over each other, as little as possible.

    Parameters
    ----------
    positions
        Where each label would like to be.
    gap
        The least distance between two.
    low, high
        Where they should stay, if there is room for all.

    Returns
    -------
    Where to put them, in the order given.

    Examples
    --------
    >>> spread([1.0, 1.2, 4.0], 1.0)
    [0.6, 1.6, 4.0]
    >>> spread([1.0, 1.2, 4.0], 1.0, low=1.0)
    [1.0, 2.0, 4.0]
    """
    order = sorted(range(len(positions)), key=lambda i: positions[i])
    # Each group keeps its labels a gap apart around the mean of where they would like to be.
    groups: list[list[float]] = []
    for index in order:
        groups.append([positions[index]])
        while len(groups) > 1 and (
            _places(groups[-1], gap, low, high)[0] - _places(groups[-2], gap, low, high)[-1]
            < gap - 1e-12
        ):
            last = groups.pop()
            groups[-1] += last
    placed = [0.0] * len(positions)
    places = [place for group in groups for place in _places(group, gap, low, high)]
    for index, place in zip(order, places, strict=True):
        placed[index] = round(place, 9)
    return placed


def _places(group: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    half = gap * (len(group) - 1) / 2
    centre = max(min(sum(group) / len(group), high - half), low + half)
    return [centre - half + gap * k for k in range(len(group))]


def end_labels(
    panel: Axes, look: Look, height: float, ends: Sequence[tuple[float, float, str, str]]
) -> None:
    """Write each series' name to the right of its end, a hair line from one to the other.

    Parameters
    ----------
    height
        Of the panel, inches.
    ends
        For each series: x, y of its end, its name, its colour.
    """
    low, high = panel.get_ylim()
    gap = _LINE * look.font_size * (high - low) / (0.8 * height * 72)
    right = panel.get_xlim()[1]
    places = spread([end[1] for end in ends], gap, low + gap / 2, high)
    for (x, y, name, colour), place in zip(ends, places, strict=True):
        panel.annotate(
            label(name, 12 if look.narrow else 20),
            xy=(x, y),
            xytext=(right + 0.025 * (right - panel.get_xlim()[0]), place),
            color=colour,
            va="center",
            ha="left",
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-",
                "color": colour,
                "linewidth": 0.6,
                "relpos": (0, 0.5),
                "shrinkB": 4,
            },
        )


# The bar of measured tones along the axis of a figure, with the scale below it; strips of tones.

HEIGHT = 0.58
"""Inches for a bar with its axis below."""

HALVES = (("a*", "reddish", "greenish"), ("b*", "yellowish", "bluish"))
"""The coordinates of a hue: name, and what lies above zero and below it."""


def tone_bar(
    axes: Axes, level: ArrayLike, lab: ArrayLike, what: str = "level sent", *, marked: bool = True
) -> None:
    """Fill an empty panel with tones, each around its level, and mark its axis in levels.

    Parameters
    ----------
    level
        Shape (n,): of each tone, in any order.
    lab
        Shape (n, 3): CIELAB under D50.
    marked
        Whether the L* of the print stands below each mark as well.
    """
    fill_row(axes, level, lab, 0.0, 1.0)
    axes.set_ylim(0, 1)
    axes.set_xlim(-0.015, 1.015)
    _bare(axes)
    if not marked:
        axes.set_xlabel(f"{what}, from black (0) to paper (1)")
        return
    places, L = np.asarray(level, dtype=np.float64), np.asarray(lab, dtype=np.float64)[:, 0]
    order = np.argsort(places)
    marks = np.linspace(0.0, 1.0, 6)
    there = np.interp(marks, places[order], L[order])
    axes.set_xticks(
        marks, [f"{mark:.1f}\n{value:.0f}" for mark, value in zip(marks, there, strict=True)]
    )
    axes.set_xlabel(f"{what}, black 0 to paper 1, and L* there")


def tone_strips(
    look: Look,
    height: float,
    strips: Sequence[tuple[str, Array, Array, float, float]],
    top: float,
    what: str = "level sent",
    *,
    lowest: float = 0.0,
    under: float = 0.0,
) -> Figure:
    """Draw ramps above each other by level, each with its name on its dark end.

    Parameters
    ----------
    height
        Of the figure, inches.
    strips
        Name, levels of shape (n,), CIELAB of shape (n, 3), lower edge and height of each.
    lowest, top
        The edges of all.
    under
        How far each reaches under the strip below, which is drawn over it: no seam between them.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(look.width, height), layout="constrained")
    panel = figure.subplots()
    for name, level, lab, bottom, high in strips:
        fill_row(panel, level, lab, bottom - under, high + under)
        # Light enough to be read on any ink.
        lettering = panel.annotate(
            name, (0, bottom + high / 2), (6, 0), textcoords="offset points", va="center",
            color="#ffffff", fontweight="bold",
        )  # fmt: skip
        as_measured(lettering)
    panel.set_xlim(0, 1)
    panel.set_ylim(lowest, top)
    _bare(panel)
    panel.set_xlabel(f"{what}, from black (0) to paper (1)")
    return figure


def _bare(axes: Axes) -> None:
    axes.set_yticks([])
    axes.grid(False)
    axes.spines[["left", "bottom"]].set_visible(False)


def around_zero(panel: Axes, look: Look, values: ArrayLike, least: float, room: float) -> None:
    """Draw the line at zero, and let a panel reach as far above it as below.

    Parameters
    ----------
    values
        What is drawn; the limits are the largest of it times `room`, and no nearer than `least`.
    """
    panel.axhline(0.0, color=look.muted, linewidth=0.7)
    reach = max(room * float(np.abs(values).max()), least)
    panel.set_ylim(-reach, reach)


def fill_row(axes: Axes, position: ArrayLike, lab: ArrayLike, bottom: float, height: float) -> None:
    """Draw tones as touching rectangles, reaching half way to their neighbours."""
    from matplotlib.collections import PolyCollection

    places = np.asarray(position, dtype=np.float64)
    order = np.argsort(places)
    edges = boundaries(places[order])
    drawn = swatches(np.asarray(lab, dtype=np.float64)[order])
    # Each reaches under the next: no hair line shows between two neighbours.
    reach = np.append(edges[2:], edges[-1:])
    corners = [
        [(left, bottom), (right, bottom), (right, bottom + height), (left, bottom + height)]
        for left, right in zip(edges[:-1], reach, strict=True)
    ]
    row = PolyCollection(corners, facecolors=[swatch.colour for swatch in drawn], linewidths=0)
    as_measured(row)
    axes.add_collection(row)
