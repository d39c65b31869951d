"""A ramp as a strip of its tones, drawn by the page itself, to be seen in turn with others."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.reporting.figures.ramp_strip import EXAGGERATION
from greyscale.reporting.page import Strip
from greyscale.reporting.swatches import boundaries, swatches


def strip(level: ArrayLike, lab: ArrayLike, alt: str, name: str = "") -> Strip:
    """Return a strip of tones from black to paper, each reaching half way to its neighbours.

    Parameters
    ----------
    level
        Shape (n,), n ≥ 2, in any order.
    lab
        Shape (n, 3): CIELAB, drawn as `swatches` draws it.
    alt
        What it shows, for those who cannot see it.
    name
        What is to stand above it.
    """
    places = np.asarray(level, dtype=np.float64)
    order = np.argsort(places)
    ends = boundaries(places[order])
    share = (ends - ends[0]) / (ends[-1] - ends[0])
    return Strip(swatches(np.asarray(lab)[order]), tuple(float(x) for x in share), alt, name)


def plain_and_strong(level: Array, lab: Array, delta_ab: Array, name: str) -> tuple[Strip, Strip]:
    """Return a ramp as it is, and with its cast made plain; L* is kept.

    Parameters
    ----------
    level, lab, delta_ab
        Shapes (n,), (n, 3), (n, 2): the tones, and their a*, b* minus the aim.
    name
        What ramp it is, for the words that stand for the picture.
    """
    stronger = lab.copy()
    stronger[:, 1:] += (EXAGGERATION - 1) * delta_ab
    return (
        strip(level, lab, f"Strip of tones from black to paper, {name}."),
        strip(level, stronger, f"The same with the cast {EXAGGERATION} times as strong."),
    )
