"""Figures of a comparison: papers by lights, their drift; a driver's settings by their tones."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from greyscale.aims.neutral import neutral_aim
from greyscale.analysis.comparison import ComparedPaper, Comparison
from greyscale.base.plain_text import fixed, rank_word
from greyscale.colorimetry.arrays import Array
from greyscale.correction.settings import Settings
from greyscale.reporting.figures.labels import label, legend_above, tone_strips, two_lines
from greyscale.reporting.style import AIM_LINE, Look, as_measured, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


# Figure: papers by lights, each cell its mean ΔCh as a number on a shade of grey.

_MOST_ROWS = 40
"""Papers beyond these, by rank, are left to the table."""

DARKEST = 5.0
"""Mean ΔCh that is drawn as the darkest shade."""


@in_look
def papers_by_lights(comparison: Comparison, look: Look) -> Figure:
    """Draw the heat table: the darker a cell, the farther the greys are from neutral."""
    from matplotlib.figure import Figure

    papers = comparison.papers[:_MOST_ROWS]
    rows, columns = len(papers), len(comparison.lights) + 1
    names = [label(light, 44) for light in comparison.lights]
    longest = max(map(len, names))
    # Side by side if they fit, else leaning, the steeper the less room there is.
    lean = 0 if longest <= 60 / columns else 60 if look.narrow else 35
    head = 0.25 + 0.6 * look.font_size / 72 * longest * np.sin(np.radians(lean))
    figure = Figure(figsize=(look.width, 0.3 + head + 0.34 * rows), layout="constrained")
    panel = figure.subplots()
    for y, paper in enumerate(papers):
        small = 1.5 if look.narrow and columns > 5 else 0
        for x, value in enumerate(seen_by_viewer(comparison, paper)):
            _draw_cell(panel, x, y, float(value), look.ground, look.font_size - small)
        panel.text(
            columns - 0.35, y + 0.5, fixed(paper.score), color=look.ink, ha="center", va="center",
            fontweight="bold", fontsize=look.font_size - small,
        )  # fmt: skip
    panel.set_xlim(0, columns + 0.15)
    panel.set_ylim(rows, 0)
    panel.set_xticks(
        [*(np.arange(columns - 1) + 0.5), columns - 0.35],
        [*names, "score"],
        rotation=lean,
        ha="left" if lean else "center",
        rotation_mode="anchor",
    )
    panel.xaxis.tick_top()
    limit = 16 if look.narrow else 30
    ranked = [f"{rank_word(one.rank, one.tied)}  {two_lines(one.name, limit)}" for one in papers]
    panel.set_yticks(np.arange(rows) + 0.5, ranked)
    panel.tick_params(length=0)
    panel.grid(False)
    for spine in panel.spines.values():
        spine.set_visible(False)
    return figure


def seen_by_viewer(comparison: Comparison, paper: ComparedPaper) -> Array:
    """Return the mean ΔCh under each light for the viewer that is asked for, shape (k,)."""
    under = paper.under
    to_light = comparison.viewer == "light"
    return under.mean_delta_Ch if to_light else under.mean_delta_Ch_to_paper


def _draw_cell(panel: Axes, x: int, y: int, value: float, edge: str, size: float) -> None:
    """Draw a value on its shade: white to black, in one sense on a light and on a dark page."""
    from matplotlib.patches import Rectangle

    grey = 0.98 - 0.9 * min(value / DARKEST, 1.0)
    shade = Rectangle((x, y), 1, 1, facecolor=str(round(grey, 3)), edgecolor=edge, linewidth=1.5)
    as_measured(panel.add_patch(shade))
    letters = panel.text(
        x + 0.5,
        y + 0.5,
        fixed(value),
        color="#000000" if grey > 0.45 else "#ffffff",
        ha="center",
        va="center",
        fontsize=size,
    )
    as_measured(letters)


# Figure: how far each paper's a*, b* lie from the aim under lights, in small multiples.

MOST_PAPERS = 12
"""Papers beyond these, by rank, are not drawn."""

MOST_LIGHTS = 4
"""As many lights go side by side in one figure."""

LEAST_SPAN = 3.0
"""The panels show at least this far to both sides of the aim."""


@in_look
def papers_drift(shown: tuple[Comparison, Sequence[int]], look: Look) -> Figure:
    """Draw a panel for each paper and light: Δa*, Δb* from the neutral aim over level.

    Parameters
    ----------
    shown
        The comparison, and the indices of the lights: of several each has a column under its
        name, and each paper a row; of one the papers fill the page's width.
    """
    from matplotlib.figure import Figure

    comparison, lights = shown
    papers = comparison.papers[:MOST_PAPERS]
    matrix = len(lights) > 1
    columns = len(lights) if matrix else min(2 if look.narrow else 4, len(papers))
    cases = list(product(papers, lights))
    rows = -(-len(cases) // columns)
    height = (1.25 if look.narrow else 1.45) if matrix else 1.6
    figure = Figure(figsize=(look.width, 0.7 + height * rows), layout="constrained")
    grid = figure.subplots(rows, columns, squeeze=False, sharex=True, sharey=True)
    from_aim = [_from_aim(comparison, *case) for case in cases]
    reach = max(LEAST_SPAN, 1.05 * max(float(np.abs(one).max()) for one in from_aim))
    panels = list(grid.flat)
    for panel, (paper, _), values in zip(panels, cases, from_aim, strict=False):
        _panel(panel, look, paper.own.ramp.level, values)
    panels[0].set_xlim(0, 1)
    panels[0].set_ylim(-reach, reach)
    panels[0].yaxis.get_major_locator().set_params(integer=True, nbins=4)
    panels[0].set_xticks([0, 0.5, 1], ["0", "" if matrix and look.narrow else "0.5", "1"])
    for panel in panels[len(cases) :]:
        panel.set_visible(False)
    if matrix:
        _heads(grid, look, papers, [comparison.lights[light] for light in lights])
    else:
        for panel, (paper, _) in zip(panels, cases, strict=False):
            panel.set_title(two_lines(paper.name, 20), fontsize=look.font_size - 1)
    handles, names = panels[0].get_legend_handles_labels()
    figure.legend(handles, names, loc="outside upper left", ncols=3, frameon=False)
    figure.supxlabel("level sent, from black (0) to paper (1)", fontsize=look.font_size)
    return figure


def _from_aim(comparison: Comparison, paper: ComparedPaper, light: int) -> Array:
    """Return Δa*, Δb* of a paper's tones under a light, shape (n, 2)."""
    lab, ramp = paper.under.lab[light], paper.own.ramp
    ends = lab[ramp.paper_index], lab[ramp.black_index]
    from_aim: Array = lab[:, 1:] - neutral_aim(comparison.neutral, lab[:, 0], *ends)
    return from_aim


def _panel(panel: Axes, look: Look, level: Array, from_aim: Array) -> None:
    for axis, name in ((0, "Δa*"), (1, "Δb*")):
        style = line(axis).options(look)
        style.update(markersize=2.6, markevery=max(1, len(level) // 8), linewidth=1.3)
        panel.plot(level, from_aim[:, axis], label=name, clip_on=False, **style)
    panel.axhline(0, color=look.ink, linestyle=AIM_LINE, linewidth=1.0, label="neutral aim")


def _heads(
    grid: NDArray[Any], look: Look, papers: Sequence[ComparedPaper], lights: Sequence[str]
) -> None:
    """Name each row above its first panel, and each column above all."""
    for row, paper in zip(grid, papers, strict=True):
        row[0].set_title(label(paper.name, 44 if look.narrow else 80))
    room = int((50 if look.narrow else 76) / len(lights))
    for panel, light in zip(grid[0], lights, strict=True):
        panel.annotate(
            two_lines(light, room), (0.5, 1), (0, 2.2 * look.font_size), va="bottom", ha="center",
            xycoords="axes fraction", textcoords="offset points", fontsize=look.font_size - 1,
        )  # fmt: skip


@in_look
def papers_strips(shown: tuple[Comparison, int], look: Look) -> Figure:
    """Draw each paper's ramp by level, its CIELAB under a light as a screen shows it.

    The light is given by its index; the viewer is held to be adapted to it.
    """
    comparison, light = shown
    papers = comparison.papers[:MOST_PAPERS]
    strips = [
        (label(one.name, 26), one.own.ramp.level, one.under.lab[light], row + 0.08, 0.92)
        for row, one in enumerate(reversed(papers))
    ]
    return tone_strips(look, 0.55 + 0.5 * len(papers), strips, len(papers))


# Figure: the tone scales of a driver's settings, whole, and in the shadows.

MOST = 6
"""Settings beyond these, by rank, are not drawn."""

_SHADOWS = 0.3


@in_look
def settings_tones(settings: Settings, look: Look) -> Figure:
    """Draw L* over level of each setting, and below it how far tones lie above its darkest."""
    figure, (whole, shadows) = panels(look, (3.2, 2.6), share_x=False)
    top = 1.0
    for index, one in enumerate(settings.settings[:MOST]):
        patches = one.analysis.patches
        how = line(index).options(look)
        whole.plot(patches.level, patches.lab[:, 0], **how, label=label(one.name, 30))
        dark = patches.level <= _SHADOWS
        above = patches.lab[dark, 0] - one.black_L
        shadows.plot(patches.level[dark], above, **how)
        top = max(top, float(above.max(initial=0.0)))
    whole.set_title("L* of each level")
    whole.set_xlim(-0.015, 1.015)
    legend_above(whole, look, columns=1 if look.narrow else 2)
    shadows.axhline(1.0, color=look.rule, linewidth=0.8)
    distinct = "" if look.narrow else "; from 1 on a tone is distinct"
    shadows.set_title(f"The shadows: L* above the darkest{distinct}")
    shadows.set_xlim(-0.005, _SHADOWS + 0.005)
    shadows.set_ylim(-0.3, 1.05 * top)
    shadows.set_xlabel("level sent, from black (0) up")
    return figure
