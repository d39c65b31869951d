"""Figure: each paper's drift of a*, b* under lights, in small multiples."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.neutral import neutral_aim
from greyscale.analysis.comparison import ComparedPaper, Comparison
from greyscale.reporting.figures.labels import label
from greyscale.reporting.style import AIM_LINE, Look, in_look, line

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PAPERS = 12
"""Papers beyond these, by rank, are not drawn."""

LEAST_SPAN = 3.0
"""The panels show at least this far to both sides of zero."""


@in_look
def papers_drift(shown: tuple[Comparison, Sequence[int]], look: Look) -> Figure:
    """Draw a panel for each paper and light: a*, b* over L*, and the neutral aim of each.

    Parameters
    ----------
    shown
        The comparison, and the indices of the lights: of several each has a column, of one the
        papers fill the page's width.
    """
    from matplotlib.figure import Figure

    comparison, lights = shown
    papers = comparison.papers[:MOST_PAPERS]
    cases = [(paper, light) for paper in papers for light in lights]
    widest = 2 if look.narrow else 4
    columns = min(widest, len(lights) if len(lights) > 1 else len(papers))
    rows = -(-len(cases) // columns)
    figure = Figure(figsize=(look.width, 0.5 + 1.6 * rows), layout="constrained")
    grid = figure.subplots(rows, columns, squeeze=False, sharex=True, sharey=True)
    reach = max(
        LEAST_SPAN,
        1.05 * max(float(np.abs(paper.under.lab[list(lights), :, 1:]).max()) for paper in papers),
    )
    panels = list(grid.flat)
    for panel, (paper, light) in zip(panels, cases, strict=False):
        _panel(panel, look, comparison, paper, light, len(lights) > 1)
        panel.set_ylim(-reach, reach)
    for panel in panels[len(cases) :]:
        panel.set_visible(False)
    handles, names = panels[0].get_legend_handles_labels()
    figure.legend(handles, names, loc="outside upper left", ncols=3, frameon=False)
    figure.supxlabel("L*, from black to paper", fontsize=look.font_size)
    return figure


def _panel(
    panel: Axes, look: Look, comparison: Comparison, paper: ComparedPaper, light: int, both: bool
) -> None:
    lab = paper.under.lab[light]
    ramp = paper.own.ramp
    aim = neutral_aim(comparison.neutral, lab[:, 0], lab[ramp.paper_index], lab[ramp.black_index])
    panel.axhline(0, color=look.muted, linewidth=0.6)
    for axis, name in ((0, "a*"), (1, "b*")):
        style = line(axis).options(look)
        style.update(markersize=2.6, markevery=max(1, len(lab) // 8), linewidth=1.3)
        panel.plot(lab[:, 0], lab[:, axis + 1], label=name, **style)
        panel.plot(
            lab[:, 0],
            aim[:, axis],
            color=style["color"],
            linestyle=AIM_LINE,
            linewidth=0.8,
            label="neutral aim" if axis == 0 else None,
        )
    title = label(paper.name, 16 if look.narrow else 20)
    if both:
        title = f"{label(paper.name, 13)}, {label(comparison.lights[light], 9)}"
    panel.set_title(title, fontsize=look.font_size - 1)
