"""Figure: what a correction sends instead of each level: tone, and the balance of the channels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.correction.record import Correction
from greyscale.reporting.figures.labels import HEIGHT, legend_above, tone_bar
from greyscale.reporting.style import Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_CHANNELS = {"R": line(1), "G": line(5), "B": line(4)}
_BAR_TONES = 65
_MARKS = 13
_LEAST_REACH = 0.01


@in_look
def correction_curve(correction: Correction, look: Look) -> Figure:
    """Draw, over level, the change of all channels together, and each against their mean."""
    heights = (1.9, 2.4, HEIGHT) if look.narrow else (2.1, 2.6, HEIGHT)
    figure, (tone, balance, bar) = panels(look, heights)
    curve = correction.curve
    mean = curve.rgb.mean(axis=1)
    _tone(tone, look, curve.levels, mean - curve.levels)
    _balance(balance, look, curve.levels, curve.rgb - mean[:, np.newaxis])
    legend_above(balance, look)
    shown = np.linspace(0, len(curve) - 1, _BAR_TONES).astype(int)
    tone_bar(bar, look, curve.levels[shown], curve.lab[shown])
    bar.set_xlabel("level of the picture, from black (0) to paper (1)")
    bar.set_xlim(-0.015, 1.015)
    return figure


def _tone(panel: Axes, look: Look, levels: Array, change: Array) -> None:
    panel.axhline(0.0, color=look.muted, linewidth=0.7)
    panel.plot(levels, change, **{**line(0).options(look), "marker": ""})
    _set_reach(panel, change)
    panel.set_title("Tone: above 0 lighter, below darker")


def _balance(panel: Axes, look: Look, levels: Array, apart: Array) -> None:
    panel.axhline(0.0, color=look.muted, linewidth=0.7)
    every = len(levels) // _MARKS
    for index, (name, style) in enumerate(_CHANNELS.items()):
        # Marks at unlike places, so that channels which lie on each other can still be told.
        marks = slice(every * (index + 1) // 4, None, every)
        panel.plot(levels, apart[:, index], **style.options(look), markevery=marks, label=name)
    _set_reach(panel, apart)
    panel.set_title("Balance: each channel minus the mean")


def _set_reach(panel: Axes, values: Array) -> None:
    reach = max(1.15 * float(np.abs(values).max()), _LEAST_REACH)
    panel.set_ylim(-reach, reach)
