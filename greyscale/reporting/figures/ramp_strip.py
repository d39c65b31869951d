"""Figure: the ramp as it measures, beside the same ramp neutral, and its cast made plain."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.reporting.figures.labels import fill_row
from greyscale.reporting.style import Look, as_measured, in_look

if TYPE_CHECKING:
    from matplotlib.figure import Figure

EXAGGERATION = 4
"""How many times its ΔCh the lowest strip shows."""


@in_look
def ramp_strip(analysis: Analysis, look: Look) -> Figure:
    """Draw three strips by level: measured, neutral at the same L*, and the cast exaggerated."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(look.width, 2.25 if look.narrow else 2.45), layout="constrained")
    panel = figure.subplots()
    patches = analysis.patches
    neutral = np.column_stack([patches.lab[:, 0], patches.aim_lab[:, 1:]])
    plain = neutral + EXAGGERATION * (patches.lab - neutral)
    strips = (
        ("as it measures", patches.lab, 3.0),
        ("neutral, same L*", neutral, 2.0),
        (f"cast × {EXAGGERATION}", plain, 0.55),
    )
    for name, lab, bottom in strips:
        # A little under the strip below, which is drawn over it: no seam between the two.
        fill_row(panel, patches.level, lab, bottom - 0.02, 1.02)
        # Lettering on the dark end, light enough to be read on any ink.
        lettering = panel.annotate(
            name, (0, bottom + 0.5), (6, 0), textcoords="offset points", va="center",
            color="#ffffff", fontweight="bold",
        )  # fmt: skip
        as_measured(lettering)
    panel.set_xlim(0, 1)
    panel.set_ylim(0.53, 4)
    panel.set_yticks([])
    panel.grid(False)
    for side in ("left", "bottom"):
        panel.spines[side].set_visible(False)
    panel.set_xlabel("level sent, from black (0) to paper (1)")
    return figure
