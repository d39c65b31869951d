"""Figure: the tone scales of a driver's settings, whole, and in the shadows."""

from __future__ import annotations

from greyscale.correction.settings import Settings
from greyscale.reporting.figures.labels import label
from greyscale.reporting.figures.plot import Figure, panels
from greyscale.reporting.style import LIGHT, Look, line

MOST = 6
"""Settings beyond these, by rank, are not drawn."""

_SHADOWS = 0.3


def settings_tones(settings: Settings, look: Look = LIGHT) -> Figure:
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
    whole.title = "L* of each level"
    whole.set_limits(x=(-0.015, 1.015))
    whole.legend_above()
    shadows.level_line(1.0, look.rule, 0.8)
    shadows.title = "The shadows: L* above the darkest; from 1 on a tone is distinct"
    shadows.set_limits(x=(-0.005, _SHADOWS + 0.005))
    shadows.set_limits(y=(-0.3, 1.05 * top))
    shadows.x_label = "level sent, from black (0) up"
    return figure
