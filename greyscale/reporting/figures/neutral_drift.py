"""Figure: how a*, b* and ΔCh go along the ramp, against the neutral aim and its tolerance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.casts import VISIBLE_DELTA_CH, to_be_named
from greyscale.colorimetry.arrays import Array
from greyscale.reporting.figures.labels import (
    HEIGHT,
    legend_above,
    level_scale,
    name_spans,
    tone_bar,
)
from greyscale.reporting.style import AIM_LINE, Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEAST_SPAN = 5.0
_HALVES = (("a*", "reddish", "greenish"), ("b*", "yellowish", "bluish"))


@in_look
def neutral_drift(analysis: Analysis, look: Look) -> Figure:
    """Draw a*, b* and ΔCh over level, with the aim, the tolerance, and the casts by name."""
    heights = (1.9, 1.9, 1.7, HEIGHT) if look.narrow else (2.2, 2.2, 1.9, HEIGHT)
    figure, (a_panel, b_panel, ch_panel, bar) = panels(look, heights)
    patches = analysis.patches
    limit = analysis.neutrality.tolerance_max_delta_Ch
    span = _span(patches.lab[:, 1:], patches.aim_lab[:, 1:], limit)
    for index, panel in enumerate((a_panel, b_panel)):
        _coordinate(panel, look, analysis, index, span)
    level_scale(bar, patches.level, patches.lab[:, 0])
    _delta_Ch(ch_panel, look, analysis, heights[2])
    tone_bar(bar, look, patches.level, patches.lab)
    legend_above(a_panel, look)
    return figure


def _span(measured: Array, aim: Array, limit: float) -> float:
    """Return the one height, in CIELAB units, that both panels of a* and b* need."""
    low = np.minimum(measured.min(axis=0), (aim - limit).min(axis=0))
    high = np.maximum(measured.max(axis=0), (aim + limit).max(axis=0))
    return max(float(np.max(high - low)) * 1.06, _LEAST_SPAN)


def _coordinate(panel: Axes, look: Look, analysis: Analysis, index: int, span: float) -> None:
    name, above, below = _HALVES[index]
    patches = analysis.patches
    level, measured, aim = patches.level, patches.lab[:, index + 1], patches.aim_lab[:, index + 1]
    limit = analysis.neutrality.tolerance_max_delta_Ch
    panel.axhline(0.0, color=look.muted, linewidth=0.7)
    panel.plot(level, measured, **line(0).options(look), label="measured", zorder=3)
    panel.plot(level, aim, color=look.ink, linestyle=AIM_LINE, linewidth=1.1, label="neutral aim")
    panel.fill_between(
        level,
        aim - limit,
        aim + limit,
        color=look.band,
        linewidth=0,
        label=f"within {limit:g} of it",
    )
    low = min(measured.min(), (aim - limit).min())
    high = max(measured.max(), (aim + limit).max())
    centre = (low + high) / 2
    panel.set_ylim(centre - span / 2, centre + span / 2)
    panel.set_title(f"{name}: above the aim {above}, below it {below}")


def _delta_Ch(panel: Axes, look: Look, analysis: Analysis, height: float) -> None:
    patches, neutrality = analysis.patches, analysis.neutrality
    level, delta_Ch, tones = patches.level, patches.delta_Ch, patches.is_tone
    limit = neutrality.tolerance_max_delta_Ch
    panel.axhspan(0, limit, color=look.band, linewidth=0)
    panel.plot(level[tones], delta_Ch[tones], **line(0).options(look))
    highest = max(float(delta_Ch[tones].max()), limit, 1.0)
    panel.set_ylim(0, 1.08 * highest)
    panel.axhline(VISIBLE_DELTA_CH, color=look.muted, linewidth=1.0, linestyle=(0, (1, 1.5)))
    panel.set_title(f"ΔCh: seen from {VISIBLE_DELTA_CH:g} (dotted), passes to {limit:g} (grey)")
    spans = [(cast.from_level, cast.to_level, cast.hue) for cast in to_be_named(neutrality.casts)]
    name_spans(panel, look, height, spans)
