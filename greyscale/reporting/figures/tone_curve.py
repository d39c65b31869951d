"""Figure: the tone scale against its aim, and the error by itself."""

from __future__ import annotations

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.reporting.figures.labels import HEIGHT, label, tone_bar
from greyscale.reporting.figures.plot import Figure, Panel, panels
from greyscale.reporting.style import AIM_LINE, LIGHT, Look, line


def tone_curve(analysis: Analysis, look: Look = LIGHT) -> Figure:
    """Draw L* over level with its aim, and below it measured minus aim."""
    heights = (2.9, 1.8, HEIGHT) if look.narrow else (3.3, 2.0, HEIGHT)
    figure, (curve, error, bar) = panels(look, heights)
    patches = analysis.patches
    _curve(curve, look, analysis)
    curve.legend_above()
    _error(error, look, analysis)
    tone_bar(bar, patches.level, patches.lab)
    bar.x_label = "level sent, from black (0) to paper (1)"
    bar.set_limits(x=(-0.015, 1.015))
    return figure


def _curve(panel: Panel, look: Look, analysis: Analysis) -> None:
    patches, tone = analysis.patches, analysis.tone
    L = patches.lab[:, 0]
    panel.plot(patches.level, L, **line(0).options(look), label="measured", order=3)
    panel.plot(
        patches.level, patches.aim_lab[:, 0], color=look.ink, dashes=AIM_LINE, width=1.1,
        label=f"aim: {label(tone.aim)}",
    )  # fmt: skip
    panel.title = "L* of each level"


def _error(panel: Panel, look: Look, analysis: Analysis) -> None:
    patches = analysis.patches
    panel.level_line(0.0, look.ink, 1.1, AIM_LINE)
    panel.plot(patches.level, patches.delta_L, **line(0).options(look))
    reach = max(1.15 * float(np.abs(patches.delta_L).max()), 1.0)
    panel.set_limits(y=(-reach, reach))
    panel.title = "ΔL*: above 0 lighter than the aim, below darker"
    for level in analysis.tone.reversals:
        row = int(np.argmin(np.abs(patches.level - level)))
        panel.text(
            level, patches.delta_L[row], "↑\nfalls", offset=(0, -4), across="center", down="top"
        )
