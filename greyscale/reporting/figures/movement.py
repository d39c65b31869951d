"""Figure: which tones have moved from where earlier prints had them, and which way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.trend import Movement
from greyscale.colorimetry.arrays import Array
from greyscale.reporting.figures.labels import legend_above
from greyscale.reporting.figures.tone_bar import HEIGHT, tone_bar
from greyscale.reporting.style import Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEAST_REACH = 1.0


@in_look
def movement_by_tone(moved: Movement, look: Look) -> Figure:
    """Draw the change of a*, b* and of L* over level."""
    heights = (2.2, 1.7, HEIGHT) if look.narrow else (2.3, 1.7, HEIGHT)
    figure, (colour, tone, bar) = panels(look, heights)
    series = (("a*: up reddish, down greenish", 0), ("b*: up yellowish, down bluish", 1))
    for index, (name, axis) in enumerate(series):
        colour.plot(moved.level, moved.delta_ab[:, axis], **line(index).options(look), label=name)
    colour.set_title("Δa*, Δb*: change from before")
    legend_above(colour, look, columns=1 if look.narrow else 2)
    tone.plot(moved.level, moved.delta_L, **line(2).options(look))
    tone.set_title("ΔL*: above 0 lighter than before, below darker")
    _around_zero(colour, look, moved.delta_ab)
    _around_zero(tone, look, moved.delta_L)
    grey = np.column_stack([moved.L, np.zeros((len(moved.L), 2))])
    tone_bar(bar, look, moved.level, grey)
    bar.set_xlabel("level sent, from black (0) to paper (1)")
    bar.set_xlim(-0.015, 1.015)
    return figure


def _around_zero(panel: Axes, look: Look, values: Array) -> None:
    panel.axhline(0.0, color=look.muted, linewidth=0.7)
    reach = max(1.1 * float(np.abs(values).max()), _LEAST_REACH)
    panel.set_ylim(-reach, reach)
