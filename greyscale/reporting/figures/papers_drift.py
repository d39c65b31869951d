"""Figure: how far each paper's a*, b* lie from the aim under lights, in small multiples."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from greyscale.aims.neutral import neutral_aim
from greyscale.analysis.comparison import ComparedPaper, Comparison
from greyscale.colorimetry.arrays import Array
from greyscale.reporting.figures.labels import label, two_lines
from greyscale.reporting.style import AIM_LINE, Look, in_look, line

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

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
