"""Figure: the ramps of papers as strips side by side, as they are seen under a light."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greyscale.analysis.comparison import Comparison
from greyscale.reporting.figures.labels import label
from greyscale.reporting.figures.tone_bar import fill_row
from greyscale.reporting.style import Look, as_measured, in_look

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST_PAPERS = 12
"""Papers beyond these, by rank, are not drawn."""


@in_look
def papers_strips(shown: tuple[Comparison, int], look: Look) -> Figure:
    """Draw each paper's ramp by level, its CIELAB under a light as a screen shows it.

    Parameters
    ----------
    shown
        The comparison, and the index of the light; the viewer is held to be adapted to it.
    """
    from matplotlib.figure import Figure

    comparison, light = shown
    papers = comparison.papers[:MOST_PAPERS]
    figure = Figure(figsize=(look.width, 0.55 + 0.5 * len(papers)), layout="constrained")
    panel = figure.subplots()
    for row, paper in enumerate(reversed(papers)):
        fill_row(panel, paper.own.ramp.level, paper.under.lab[light], row + 0.08, 0.92)
        # On the dark end, light enough to be read on any ink.
        lettering = panel.annotate(
            label(paper.name, 26), (0, row + 0.54), (6, 0), textcoords="offset points",
            va="center", color="#ffffff", fontweight="bold",
        )  # fmt: skip
        as_measured(lettering)
    panel.set_xlim(0, 1)
    panel.set_ylim(0, len(papers))
    panel.set_yticks([])
    panel.grid(False)
    for side in ("left", "bottom"):
        panel.spines[side].set_visible(False)
    panel.set_xlabel("level sent, from black (0) to paper (1)")
    return figure
