"""Figure: what power lights have at each wavelength, at equal illuminance."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from greyscale.colorimetry.lights import Light, at_wavelengths, luminous_power
from greyscale.reporting.figures.labels import label
from greyscale.reporting.style import Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WAVELENGTHS = np.arange(300.0, 781.0)
"""Drawn range, nm: from where brighteners are excited to the end of sight."""


@in_look
def spectra_of_lights(sources: Sequence[Light], look: Look) -> Figure:
    """Draw a panel for each light: relative power over wavelength, at equal illuminance."""
    heights = [1.55] * len(sources)
    heights[-1] += 0.35
    figure, axes = panels(look, heights)
    for panel, source in zip(axes, sources, strict=True):
        known = source.begins <= WAVELENGTHS
        power = at_wavelengths(source, WAVELENGTHS) / luminous_power(source) * 100
        style = line(0).options(look)
        panel.fill_between(WAVELENGTHS[known], power[known], color=look.band, linewidth=0)
        panel.plot(WAVELENGTHS[known], power[known], color=style["color"], linewidth=1.3)
        panel.set_title(label(source.name, 34 if look.narrow else 60))
        panel.set_xlim(WAVELENGTHS[0], WAVELENGTHS[-1])
        panel.set_ylim(0, max(1.08 * float(power[known].max()), 1e-9))
        panel.set_yticks([])
        if not known.all():
            panel.axvspan(WAVELENGTHS[0], source.begins, color=look.band, alpha=0.5, lw=0)
            panel.text(
                (WAVELENGTHS[0] + source.begins) / 2,
                0.5 * panel.get_ylim()[1],
                "not\nknown",
                color=look.muted,
                ha="center",
                va="center",
                fontsize=look.font_size - 1,
            )
    axes[0].set_ylabel("relative power")
    axes[-1].set_xlabel("wavelength (nm); ultraviolet to the left of 400")
    return figure
