"""Figure: how far the tones are from their aims before, as predicted, and after a correction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from greyscale.colorimetry.arrays import Array, Indices
from greyscale.colorimetry.cielab import chroma
from greyscale.reporting.figures.labels import HEIGHT, fill_row, legend_above, level_scale, tone_bar
from greyscale.reporting.style import Line, Look, as_measured, in_look, panels
from greyscale.reporting.swatches import EXAGGERATION

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


_TWO_SIDED_95 = 1.96
_HALVES = (("Δa*", "reddish", "greenish"), ("Δb*", "yellowish", "bluish"))
_LEAST_SPAN = 2.0
_ROOM = 1.06
_BAND_POINTS = 161

STYLES = {
    "before": Line(1, (0, (1.2, 1.4)), "s", False),
    "predicted": Line(2, (0, (6, 1.6, 1.2, 1.6)), "", False),
    "after": Line(0, "-", "o", True),
}
"""One look for each course, the same in all figures of a correction."""


@dataclass(frozen=True, eq=False)
class Course:
    """One ramp against its aims.

    Attributes
    ----------
    name
        "before", "predicted" or "after".
    level
        Shape (n,).
    lab
        Shape (n, 3): CIELAB, measured or predicted.
    delta
        Shape (n, 3): L*, a*, b* minus their aims.
    sd
        Shape (n, 3): one standard deviation of a prediction; None for what is measured.
    cast
        Shape (n, 2): a*, b* minus those that make the tone neutral, where the aim is a toning
        that this ramp was printed without; None where the aim says what the cast is.
    """

    name: str
    level: Array
    lab: Array
    delta: Array
    sd: Array | None = None
    cast: Array | None = None

    @property
    def enlarged(self) -> Array:
        """What is enlarged to be seen: `cast`, else a*, b* minus the aim."""
        return self.delta[:, 1:] if self.cast is None else self.cast


@dataclass(frozen=True)
class BeforeAfter:
    """What the figures of a correction or a verification show.

    Attributes
    ----------
    courses
        In the order of the legend; the last one's tones are drawn along the axis.
    tolerance
        The largest ΔCh that passes.
    toned
        Whether the aim is a toning.
    """

    courses: Sequence[Course]
    tolerance: float
    toned: bool = False


@in_look
def before_after_colour(shown: BeforeAfter, look: Look) -> Figure:
    """Draw a*, b* minus their aims, and ΔCh, over level."""
    heights = (1.8, 1.8, 1.8, HEIGHT) if look.narrow else (2.1, 2.1, 2.1, HEIGHT)
    figure, (a_panel, b_panel, ch_panel, bar) = panels(look, heights)
    limit = shown.tolerance
    both = np.concatenate([course.delta[:, 1:] for course in shown.courses])
    span = max(_ROOM * float(np.max(np.ptp(both, axis=0))), _LEAST_SPAN)
    for axis, panel in ((1, a_panel), (2, b_panel)):
        _coordinate(panel, look, shown, axis, span)
    ch_panel.axhspan(0, limit, color=look.band, linewidth=0)
    for course in shown.courses:
        delta_Ch = chroma(course.delta[:, 1:])
        ch_panel.plot(course.level, delta_Ch, **_options(course, look), label=course.name)
    ch_panel.set_ylim(bottom=0)
    ch_panel.set_title("ΔCh: distance from the aim")
    last = _few(shown.courses[-1])
    tone_bar(bar, look, last.level, last.lab)
    level_scale(bar, last.level, last.lab[:, 0], "level of the picture")
    legend_above(a_panel, look)
    return figure


@in_look
def before_after_tone(shown: BeforeAfter, look: Look) -> Figure:
    """Draw L* minus its aim over level."""
    figure, (panel, bar) = panels(look, (2.3 if look.narrow else 2.6, HEIGHT))
    panel.axhline(0.0, color=look.muted, linewidth=0.7)
    for course in shown.courses:
        _uncertain(panel, look, course, course.level, 0)
        panel.plot(course.level, course.delta[:, 0], **_options(course, look), label=course.name)
    reach = max(max(float(np.abs(course.delta[:, 0]).max()) for course in shown.courses), 1.0)
    panel.set_ylim(-1.1 * reach, 1.1 * reach)
    panel.set_title("ΔL*: above 0 lighter, below darker")
    last = _few(shown.courses[-1])
    tone_bar(bar, look, last.level, last.lab)
    level_scale(bar, last.level, last.lab[:, 0], "level of the picture")
    legend_above(panel, look)
    return figure


def _coordinate(panel: Axes, look: Look, shown: BeforeAfter, axis: int, span: float) -> None:
    name, above, below = _HALVES[axis - 1]
    panel.axhline(0.0, color=look.muted, linewidth=0.7)
    low = high = 0.0
    for course in shown.courses:
        delta = course.delta[:, axis]
        _uncertain(panel, look, course, course.level, axis)
        panel.plot(course.level, delta, **_options(course, look), label=course.name)
        low, high = min(low, float(delta.min())), max(high, float(delta.max()))
    centre = (low + high) / 2
    panel.set_ylim(centre - _ROOM * span / 2, centre + _ROOM * span / 2)
    panel.set_title(f"{name}: above 0 {above}, below {below}")


def _uncertain(panel: Axes, look: Look, course: Course, x: Array, axis: int) -> None:
    """Shade where 95 % of the prints should lie."""
    if course.sd is None:
        return
    # More corners than a page has dots to show them would only make the file large.
    rows = np.linspace(0, len(x) - 1, min(len(x), _BAND_POINTS)).astype(int)
    reach = _TWO_SIDED_95 * course.sd[rows, axis]
    delta = course.delta[rows, axis]
    panel.fill_between(x[rows], delta - reach, delta + reach, color=look.band, linewidth=0)


def _options(course: Course, look: Look) -> dict[str, Any]:
    options = STYLES[course.name].options(look)
    # Marks stand for patches; a curve of the model has too many points for them.
    return {**options, "marker": ""} if len(course.level) > 200 else options


def _few(course: Course, count: int = 65) -> Course:
    if len(course.level) <= count:
        return course
    rows = np.linspace(0, len(course.level) - 1, count).astype(int)
    return Course(course.name, course.level[rows], course.lab[rows], course.delta[rows])


# Figure: the ramps of a correction as they print, one above the other, their casts made plain.

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
    rows = _few_tones(course)
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


def _few_tones(course: Course) -> Indices:
    count = len(course.level)
    return np.unique(np.linspace(0, count - 1, min(count, _TONES)).astype(int))
