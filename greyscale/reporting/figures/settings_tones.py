"""Figure: the tone scales of a driver's settings, whole, and in the shadows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greyscale.correction.settings import Settings
from greyscale.reporting.figures.labels import label, legend_above
from greyscale.reporting.style import Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST = 6
"""Settings beyond these, by rank, are not drawn."""

_SHADOWS = 0.3


@in_look
def settings_tones(settings: Settings, look: Look) -> Figure:
    """Draw L* over level of each setting, and below it how far tones lie above its darkest."""
    figure, (whole, shadows) = panels(look, (3.2, 2.6), share_x=False)
    top = 1.0
    for index, one in enumerate(settings.settings[:MOST]):
        patches = one.analysis.patches
        how = line(index).options(look)
        whole.plot(patches.level, patches.lab[:, 0], **how, label=label(one.name, 30))
        dark = patches.level <= _SHADOWS
        above = patches.lab[dark, 0] - one.black_L
        shadows.plot(patches.level[dark], above, **how)
        top = max(top, float(above.max(initial=0.0)))
    whole.set_title("L* of each level")
    whole.set_xlim(-0.015, 1.015)
    legend_above(whole, look)
    shadows.axhline(1.0, color=look.rule, linewidth=0.8)
    shadows.set_title("The shadows: L* above the darkest; from 1 on a tone is distinct")
    shadows.set_xlim(-0.005, _SHADOWS + 0.005)
    shadows.set_ylim(-0.3, 1.05 * top)
    shadows.set_xlabel("level sent, from black (0) up")
    return figure
