"""Figure: what power lights have at each wavelength, at equal illuminance."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from greyscale.colorimetry.lights import Light, at_wavelengths, luminous_power
from greyscale.reporting.figures.labels import label
from greyscale.reporting.figures.plot import Figure, panels
from greyscale.reporting.style import LIGHT, Look

WAVELENGTHS = np.arange(300.0, 781.0)
"""Drawn range, nm: from where brighteners are excited to the end of sight."""


def spectra_of_lights(sources: Sequence[Light], look: Look = LIGHT) -> Figure:
    """Draw a panel for each light: relative power over wavelength, at equal illuminance."""
    heights = [1.55] * len(sources)
    heights[-1] += 0.35
    figure, drawn = panels(look, heights)
    for panel, source in zip(drawn, sources, strict=True):
        known = source.begins <= WAVELENGTHS
        power = at_wavelengths(source, WAVELENGTHS) / luminous_power(source) * 100
        panel.band(WAVELENGTHS[known], 0.0, power[known], look.band)
        panel.plot(WAVELENGTHS[known], power[known], color=look.ink, width=1.3)
        panel.title = label(source.name, 34 if look.narrow else 60)
        panel.set_limits(x=(WAVELENGTHS[0], WAVELENGTHS[-1]))
        panel.set_limits(y=(0, max(1.08 * float(power[known].max()), 1e-9)))
        panel.set_ticks(panel.y, [], [])
        if not known.all():
            panel.upright_band(WAVELENGTHS[0], source.begins, look.band, 0.5)
            panel.text(
                (WAVELENGTHS[0] + source.begins) / 2, 0.5, "not\nknown", shares="y",
                colour=look.muted, across="center", down="center", size=look.font_size - 1,
            )  # fmt: skip
    drawn[0].y_label = "relative power"
    drawn[-1].x_label = "wavelength (nm); ultraviolet to the left of 400"
    return figure
