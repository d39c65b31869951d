"""Figure: a picture as it prints before and after a correction, and its cast made plain."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.applying.preview import Preview, Side
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.display import lab_to_srgb
from greyscale.reporting.style import Look, in_look

if TYPE_CHECKING:
    from matplotlib.figure import Figure

EXAGGERATION = 3.0
"""How many times its ΔCh the lower pictures show."""


@in_look
def picture_before_after(preview: Preview, look: Look) -> Figure:
    """Draw the picture as each side of a preview prints it; below, with casts exaggerated."""
    from matplotlib.figure import Figure

    height, width = preview.picture.levels.shape
    shape = height / width
    rows = [(side, factor) for factor in (1.0, EXAGGERATION) for side in preview.sides]
    columns = 1 if look.narrow else 2
    each = look.width / columns
    lines = len(rows) // columns
    figure = Figure(figsize=(look.width, lines * (each * shape + 0.36)), layout="constrained")
    panels = figure.subplots(lines, columns, squeeze=False)
    for panel, (side, factor) in zip(panels.flat, rows, strict=True):
        panel.imshow(_as_seen(preview.picture.levels, side, factor), interpolation="none")
        name = side.name if factor == 1 else f"{side.name}, cast × {factor:g}"
        panel.set_title(name)
        panel.set_axis_off()
    return figure


def _as_seen(levels: Array, side: Side, factor: float) -> Array:
    """Return levels as they print: 8-bit sRGB, shape (height, width, 3)."""
    tones = side.tones.exaggerated(factor)
    colours, _ = lab_to_srgb(tones.lab)
    channels = [np.interp(levels, tones.levels, colours[:, c]) for c in range(3)]
    return np.round(255 * np.stack(channels, axis=-1)).astype(np.uint8)
