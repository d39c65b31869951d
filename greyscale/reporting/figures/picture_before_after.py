"""Figure: a picture as it prints before and after a correction, and its cast made plain."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from greyscale.applying.preview import Preview, Side
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.display import lab_to_srgb
from greyscale.reporting.figures.plot import Figure, grid_of_panels, pixels_in
from greyscale.reporting.style import LIGHT, Look

EXAGGERATION = 3.0
"""How many times its ΔCh the lower pictures show."""


def picture_before_after(preview: Preview, look: Look = LIGHT) -> Figure:
    """Draw the picture as each side of a preview prints it; below, with casts exaggerated."""
    height, width = preview.picture.levels.shape
    shape = height / width
    rows = [(side, factor) for factor in (1.0, EXAGGERATION) for side in preview.sides]
    columns = 1 if look.narrow else 2
    each = look.width / columns
    lines = len(rows) // columns
    figure, panels = grid_of_panels(look, lines * (each * shape + 0.36), len(rows), columns)
    for panel, (side, factor) in zip(panels, rows, strict=True):
        pixels_in(panel, _as_seen(preview.picture.levels, side, factor))
        name = side.name if factor == 1 else f"{side.name}, cast × {factor:g}"
        panel.title = name
    return figure


def _as_seen(levels: Array, side: Side, factor: float) -> NDArray[np.uint8]:
    """Return levels as they print: 8-bit sRGB, shape (height, width, 3)."""
    tones = side.tones.exaggerated(factor)
    colours, _ = lab_to_srgb(tones.lab)
    channels = [np.interp(levels, tones.levels, colours[:, c]) for c in range(3)]
    return np.round(255 * np.stack(channels, axis=-1)).astype(np.uint8)
