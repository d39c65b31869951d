"""Figure: how much each light changes the greys, tone by tone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.metamerism import REFERENCE_LIGHT
from greyscale.reporting.figures.labels import HEIGHT, end_labels, level_scale, tone_bar
from greyscale.reporting.style import Look, in_look, line, marked_every, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@in_look
def metamerism_by_light(analysis: Analysis, look: Look) -> Figure:
    """Draw the metamerism index over level, a line for each light but D50, where it is 0.

    Raises
    ------
    ValueError
        If the analysis has no lights.
    """
    if analysis.lights is None:
        raise ValueError("without spectra there is no metamerism index to draw")
    heights = (2.6 if look.narrow else 3.0, HEIGHT)
    figure, (panel, bar) = panels(look, heights)
    level = analysis.patches.level
    level_scale(bar, level, analysis.patches.lab[:, 0])
    lights = [light for light in analysis.lights if light.name != REFERENCE_LIGHT]
    ends = []
    for index, light in enumerate(lights, start=1):
        options = line(index).options(look)
        panel.plot(
            level, light.metamerism_index, **options, markevery=marked_every(len(level), index)
        )
        ends.append(
            (float(level[0]), float(light.metamerism_index[0]), light.name, options["color"])
        )
    highest = max([float(light.metamerism_index.max()) for light in lights], default=0.0)
    panel.set_ylim(0, 1.12 * max(highest, 1.0))
    panel.set_title("Metamerism index (ΔE00), against D50")
    end_labels(panel, look, heights[0], ends)
    tone_bar(bar, look, level, analysis.patches.lab)
    return figure
