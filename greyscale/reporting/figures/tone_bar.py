"""The bar of measured tones that lies along the axis of a figure, and the scale below it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.colorimetry.arrays import ArrayLike
from greyscale.reporting.style import Look, as_measured
from greyscale.reporting.swatches import boundaries, swatches

if TYPE_CHECKING:
    from matplotlib.axes import Axes

HEIGHT = 0.58
"""Inches for a bar with its axis below."""


def tone_bar(axes: Axes, look: Look, position: ArrayLike, lab: ArrayLike) -> None:
    """Fill a panel with tones, each around its place on the x axis.

    Parameters
    ----------
    axes
        An empty panel.
    position
        Shape (n,): L* or level of each tone, in any order.
    lab
        Shape (n, 3): CIELAB under D50.
    """
    fill_row(axes, position, lab, 0.0, 1.0)
    axes.set_ylim(0, 1)
    axes.set_yticks([])
    axes.grid(False)
    axes.spines["left"].set_visible(False)
    axes.spines["bottom"].set_visible(False)


def level_scale(axes: Axes, level: ArrayLike, L: ArrayLike, what: str = "level sent") -> None:
    """Mark an axis in levels, and below each the L* of the print there.

    Parameters
    ----------
    axes
        The lowest panel.
    level, L
        Shape (n,): of the tones shown, in any order.
    what
        What the levels are of.
    """
    places = np.asarray(level, dtype=np.float64)
    order = np.argsort(places)
    marks = np.linspace(0.0, 1.0, 6)
    there = np.interp(marks, places[order], np.asarray(L, dtype=np.float64)[order])
    axes.set_xticks(
        marks, [f"{mark:.1f}\n{value:.0f}" for mark, value in zip(marks, there, strict=True)]
    )
    axes.set_xlim(-0.015, 1.015)
    axes.set_xlabel(f"{what}, black 0 to paper 1, and L* there")


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
