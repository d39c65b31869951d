"""Figure: the ramp as it measures, beside the same ramp neutral, and its cast made plain."""

from __future__ import annotations

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.reporting.figures.labels import fill_row, lettering
from greyscale.reporting.figures.plot import Figure, panels
from greyscale.reporting.style import LIGHT, Look

EXAGGERATION = 4
"""How many times its ΔCh the lowest strip shows."""


def ramp_strip(analysis: Analysis, look: Look = LIGHT) -> Figure:
    """Draw three strips by level: measured, neutral at the same L*, and the cast exaggerated."""
    figure, (panel,) = panels(look, (2.25 if look.narrow else 2.45,))
    panel.bare()
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
        lettering(panel, bottom + 0.5, name)
    panel.set_limits(x=(0, 1))
    panel.set_limits(y=(0.53, 4))
    panel.x_label = "level sent, from black (0) to paper (1)"
    return figure
