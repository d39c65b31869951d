"""Figure: the ramps of a correction as they print, one above the other, their casts made plain."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greyscale.colorimetry.arrays import Indices
from greyscale.reporting.figures.before_after import BeforeAfter, Course
from greyscale.reporting.figures.ramp_strip import EXAGGERATION
from greyscale.reporting.figures.tone_bar import fill_row
from greyscale.reporting.style import Look, as_measured, in_look

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_TONES = 65
_ROW = 0.48
_GAP = 0.45


@in_look
def before_after_strip(shown: BeforeAfter, look: Look) -> Figure:
    """Draw each ramp by level as it prints, then each with its cast enlarged.

    Of a toned print that is its distance from the toning; of the one before, from neutral. Both
    ramps of a pair touch, so that what parts them can be seen; L* is kept as it is.
    """
    from matplotlib.figure import Figure

    courses = [shown.courses[0], shown.courses[-1]]
    rows = 2 * len(courses)
    figure = Figure(figsize=(look.width, _ROW * rows + 0.85), layout="constrained")
    panel = figure.subplots()
    bottom = float(rows) + _GAP
    for gain in (1, EXAGGERATION):
        for course in courses:
            bottom -= 1.0
            _strip(panel, course, gain, shown.toned, bottom)
        bottom -= _GAP
    panel.set_xlim(0, 1)
    panel.set_ylim(0, rows + _GAP)
    panel.set_yticks([])
    panel.grid(False)
    for side in ("left", "bottom"):
        panel.spines[side].set_visible(False)
    panel.set_xlabel("level of the picture, from black (0) to paper (1)")
    return figure


def _strip(panel: Axes, course: Course, gain: int, toned: bool, bottom: float) -> None:
    rows = _few(course)
    level, enlarged = course.level[rows], course.lab[rows].copy()
    enlarged[:, 1:] += (gain - 1) * course.enlarged[rows]
    what = "error" if toned and course.cast is None else "cast"
    fill_row(panel, level, enlarged, bottom, 1.0)
    # Lettering on the dark end, light enough to be read on any ink.
    lettering = panel.annotate(
        course.name if gain == 1 else f"{course.name}, {what} × {gain}",
        (0, bottom + 0.5), (6, 0), textcoords="offset points", va="center",
        color="#ffffff", fontweight="bold",
    )  # fmt: skip
    as_measured(lettering)


def _few(course: Course) -> Indices:
    count = len(course.level)
    return np.unique(np.linspace(0, count - 1, min(count, _TONES)).astype(int))
