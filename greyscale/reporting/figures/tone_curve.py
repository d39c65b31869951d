"""Figure: the tone scale against its aim, and the error by itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.reporting.figures.labels import HEIGHT, label, legend_above, tone_bar
from greyscale.reporting.style import AIM_LINE, Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def tone_curve(analysis: Analysis, look: Look) -> Figure:
    """Draw L* over level with its aim, and below it measured minus aim."""
    heights = (2.9, 1.8, HEIGHT) if look.narrow else (3.3, 2.0, HEIGHT)
    figure, (curve, error, bar) = panels(look, heights)
    patches = analysis.patches
    _curve(curve, look, analysis)
    legend_above(curve, look)
    _error(error, look, analysis)
    tone_bar(bar, look, patches.level, patches.lab)
    bar.set_xlabel("level sent, from black (0) to paper (1)")
    bar.set_xlim(-0.015, 1.015)
    return figure


def _curve(panel: Axes, look: Look, analysis: Analysis) -> None:
    patches, tone = analysis.patches, analysis.tone
    L = patches.lab[:, 0]
    panel.plot(patches.level, L, **line(0).options(look), label="measured", zorder=3)
    panel.plot(
        patches.level, patches.aim_lab[:, 0], color=look.ink, linestyle=AIM_LINE, linewidth=1.1,
        label=f"aim: {label(tone.aim)}",
    )  # fmt: skip
    panel.set_title("L* of each level")


def _error(panel: Axes, look: Look, analysis: Analysis) -> None:
    patches = analysis.patches
    panel.axhline(0.0, color=look.ink, linestyle=AIM_LINE, linewidth=1.1)
    panel.plot(patches.level, patches.delta_L, **line(0).options(look))
    reach = max(1.15 * float(np.abs(patches.delta_L).max()), 1.0)
    panel.set_ylim(-reach, reach)
    panel.set_title("ΔL*: above 0 lighter than the aim, below darker")
    for level in analysis.tone.reversals:
        row = int(np.argmin(np.abs(patches.level - level)))
        panel.annotate(
            "falls", (level, patches.delta_L[row]), (0, -14), textcoords="offset points",
            ha="center", va="top", arrowprops={"arrowstyle": "->", "color": look.ink},
        )  # fmt: skip
