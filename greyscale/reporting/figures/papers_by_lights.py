"""Figure: papers by lights, each cell its mean ΔCh as a number on a shade of grey."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.comparison import Comparison
from greyscale.reporting.comparison_table import rank_word
from greyscale.reporting.figures.labels import label, two_lines
from greyscale.reporting.numbers import fixed
from greyscale.reporting.style import Look, as_measured, in_look

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PAPERS = 40
"""Papers beyond these, by rank, are left to the table."""

DARKEST = 5.0
"""Mean ΔCh that is drawn as the darkest shade."""


@in_look
def papers_by_lights(comparison: Comparison, look: Look) -> Figure:
    """Draw the heat table: the darker a cell, the farther the greys are from neutral."""
    from matplotlib.figure import Figure

    papers = comparison.papers[:MOST_PAPERS]
    rows, columns = len(papers), len(comparison.lights) + 1
    names = [label(light, 22) for light in comparison.lights]
    longest = max(map(len, names))
    # Side by side if they fit, else leaning, the steeper the less room there is.
    lean = 0 if longest <= 60 / columns else 60 if look.narrow else 35
    head = 0.25 + 0.6 * look.font_size / 72 * longest * np.sin(np.radians(lean))
    figure = Figure(figsize=(look.width, 0.3 + head + 0.34 * rows), layout="constrained")
    panel = figure.subplots()
    for y, paper in enumerate(papers):
        under = paper.under
        figures = (
            under.mean_delta_Ch if comparison.viewer == "light" else under.mean_delta_Ch_to_paper
        )
        small = 1.5 if look.narrow and columns > 5 else 0
        for x, value in enumerate(figures):
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
    panel.set_yticks(
        np.arange(rows) + 0.5,
        [f"{rank_word(paper)}  {two_lines(paper.name, limit)}" for paper in papers],
    )
    panel.tick_params(length=0)
    panel.grid(False)
    for spine in panel.spines.values():
        spine.set_visible(False)
    return figure


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
