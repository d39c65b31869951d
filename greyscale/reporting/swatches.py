"""Swatches: measured tones as colours a screen can draw, said to be a simulation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.display import lab_to_srgb

EXAGGERATION = 4
"""How many times its ΔCh a strip shows whose cast is made plain."""

SIMULATED = (
    "Swatches are a simulation: the measured CIELAB values drawn in sRGB, perfect white as the "
    "screen's white. A screen that is not calibrated shows other colours; judge the print itself, "
    "by the numbers and by eye."
)


@dataclass(frozen=True)
class Swatch:
    """One tone as a screen draws it.

    Attributes
    ----------
    colour
        sRGB as `#rrggbb`.
    clipped
        Whether the tone lies outside sRGB, so that the swatch shows the nearest drawable value.
    """

    colour: str
    clipped: bool


def swatches(lab: ArrayLike) -> tuple[Swatch, ...]:
    """Return one swatch for each tone.

    Parameters
    ----------
    lab
        Shape (n, 3): L*, a*, b* under D50. Rows with a missing value are refused.

    Raises
    ------
    ValueError
        If a value is not a finite number.

    Examples
    --------
    >>> swatches([[50.0, 0.0, 0.0]])
    (Swatch(colour='#777777', clipped=False),)
    """
    values = np.atleast_2d(np.asarray(lab, dtype=np.float64))
    if not np.all(np.isfinite(values)):
        raise ValueError("a swatch needs finite L*, a*, b*")
    rgb, clipped = lab_to_srgb(values)
    bytes_ = np.round(255 * rgb).astype(int)
    return tuple(
        Swatch(f"#{red:02x}{green:02x}{blue:02x}", bool(outside))
        for (red, green, blue), outside in zip(bytes_, clipped, strict=True)
    )


def boundaries(places: Array) -> Array:
    """Return where each of touching tones begins and the last one ends, shape (n + 1,).

    Each reaches half way to its neighbours.

    Parameters
    ----------
    places
        Shape (n,), rising.
    """
    middles = (places[1:] + places[:-1]) / 2
    return np.concatenate([places[:1], middles, places[-1:]])
