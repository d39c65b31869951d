"""Figures of a correction and of its proof, with what to read in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from greyscale.aims.neutral import neutral_aim
from greyscale.aims.tolerances import DEFAULT_TOLERANCE, tolerance
from greyscale.analysis.analyse import PatchTable
from greyscale.applying.preview import Preview, Side
from greyscale.base.plain_text import fixed, joined, signed
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.colorimetry.cielab import chroma
from greyscale.colorimetry.display import lab_to_srgb
from greyscale.correction.record import Correction
from greyscale.correction.targets import neutral_aim_of
from greyscale.correction.verify import Verification, uncorrected_reading
from greyscale.readings.reading import average_repeats
from greyscale.reporting.figures.labels import (
    HALVES,
    HEIGHT,
    around_zero,
    legend_above,
    tone_bar,
    tone_strips,
)
from greyscale.reporting.page import Picture
from greyscale.reporting.style import EXAGGERATION, Line, Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_TWO_SIDED_95 = 1.96
_LEAST_SPAN = 2.0
_ROOM = 1.06
_BAND_POINTS = 161
_TONES = 65
_ROW, _GAP = 0.48, 0.45

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
    _bar(bar, shown)
    legend_above(a_panel, look)
    return figure


@in_look
def before_after_tone(shown: BeforeAfter, look: Look) -> Figure:
    """Draw L* minus its aim over level."""
    figure, (panel, bar) = panels(look, (2.3 if look.narrow else 2.6, HEIGHT))
    around_zero(panel, look, np.concatenate([one.delta[:, 0] for one in shown.courses]), 1.1, 1.1)
    for course in shown.courses:
        _uncertain(panel, look, course, 0)
        panel.plot(course.level, course.delta[:, 0], **_options(course, look), label=course.name)
    panel.set_title("ΔL*: above 0 lighter, below darker")
    _bar(bar, shown)
    legend_above(panel, look)
    return figure


def _coordinate(panel: Axes, look: Look, shown: BeforeAfter, axis: int, span: float) -> None:
    name, above, below = HALVES[axis - 1]
    panel.axhline(0.0, color=look.muted, linewidth=0.7)
    low = high = 0.0
    for course in shown.courses:
        delta = course.delta[:, axis]
        _uncertain(panel, look, course, axis)
        panel.plot(course.level, delta, **_options(course, look), label=course.name)
        low, high = min(low, float(delta.min())), max(high, float(delta.max()))
    centre = (low + high) / 2
    panel.set_ylim(centre - _ROOM * span / 2, centre + _ROOM * span / 2)
    panel.set_title(f"Δ{name}: above 0 {above}, below {below}")


def _uncertain(panel: Axes, look: Look, course: Course, axis: int) -> None:
    """Shade where 95 % of the prints should lie."""
    if course.sd is None:
        return
    # More corners than a page has dots to show them would only make the file large.
    rows = _some(course.level, _BAND_POINTS)
    reach = _TWO_SIDED_95 * course.sd[rows, axis]
    delta = course.delta[rows, axis]
    panel.fill_between(
        course.level[rows], delta - reach, delta + reach, color=look.band, linewidth=0
    )


def _options(course: Course, look: Look) -> dict[str, Any]:
    options = STYLES[course.name].options(look)
    # Marks stand for patches; a curve of the model has too many points for them.
    return options | {"marker": ""} if len(course.level) > 200 else options


def _some(level: Array, most: int) -> Indices:
    """Return the indices of tones that are enough to be shown, the ends among them."""
    return np.unique(np.linspace(0, len(level) - 1, min(len(level), most)).astype(int))


def _bar(bar: Axes, shown: BeforeAfter) -> None:
    last = shown.courses[-1]
    rows = _some(last.level, _TONES)
    tone_bar(bar, last.level[rows], last.lab[rows], "level of the picture")


@in_look
def before_after_strip(shown: BeforeAfter, look: Look) -> Figure:
    """Draw the first and the last ramp by level as it prints, then each with its cast enlarged.

    Of a toned print that is its distance from the toning; of the one before, from neutral. Both
    ramps of a pair touch, so that what parts them can be seen; L* is kept as it is.
    """
    pair = (shown.courses[0], shown.courses[-1])
    strips = []
    bottom = 4.0 + _GAP
    for gain in (1, EXAGGERATION):
        for course in pair:
            bottom -= 1.0
            rows = _some(course.level, _TONES)
            lab = course.lab[rows].copy()
            lab[:, 1:] += (gain - 1) * course.enlarged[rows]
            what = "error" if shown.toned and course.cast is None else "cast"
            name = course.name if gain == 1 else f"{course.name}, {what} × {gain}"
            strips.append((name, course.level[rows], lab, bottom, 1.0))
        bottom -= _GAP
    return tone_strips(look, 4 * _ROW + 0.85, strips, 4 + _GAP, "level of the picture")


_CHANNELS = {"R": line(1), "G": line(5), "B": line(4)}
_MARKS = 13
_LEAST_REACH = 0.01


@in_look
def correction_curve(correction: Correction, look: Look) -> Figure:
    """Draw, over level, the change of all channels together, and each against their mean."""
    heights = (1.9, 2.4, HEIGHT) if look.narrow else (2.1, 2.6, HEIGHT)
    figure, (tone, balance, bar) = panels(look, heights)
    curve = correction.curve
    mean = curve.rgb.mean(axis=1)
    change, apart = mean - curve.levels, curve.rgb - mean[:, np.newaxis]
    around_zero(tone, look, change, _LEAST_REACH, 1.15)
    tone.plot(curve.levels, change, **line(0).options(look) | {"marker": ""})
    tone.set_title("Tone: above 0 lighter, below darker")
    around_zero(balance, look, apart, _LEAST_REACH, 1.15)
    every = len(curve) // _MARKS
    for index, (name, style) in enumerate(_CHANNELS.items()):
        # Marks at unlike places, so that channels which lie on each other can still be told.
        marks = slice(every * (index + 1) // 4, None, every)
        how = style.options(look)
        balance.plot(curve.levels, apart[:, index], **how, markevery=marks, label=name)
    balance.set_title("Balance: each channel minus the mean")
    legend_above(balance, look)
    rows = _some(curve.levels, _TONES)
    what = "level of the picture"
    tone_bar(bar, curve.levels[rows], curve.lab[rows], what, marked=False)
    return figure


_STRONGER = 3.0
"""How many times its ΔCh the lower pictures show."""


@in_look
def picture_before_after(preview: Preview, look: Look) -> Figure:
    """Draw the picture as each side of a preview prints it; below, with casts exaggerated."""
    from matplotlib.figure import Figure

    height, width = preview.picture.levels.shape
    shape = height / width
    rows = [(side, factor) for factor in (1.0, _STRONGER) for side in preview.sides]
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


# The ramps of a correction or a verification, side by side, for figures and tables.


def correction_courses(correction: Correction) -> BeforeAfter:
    """Return the uncorrected ramp as measured, and the corrected one as predicted."""
    curve = correction.curve
    measured = average_repeats(uncorrected_reading(correction)).reading
    order = np.argsort(measured.level)
    level, lab = measured.level[order], measured.lab[order]
    return BeforeAfter(
        (
            Course(
                "before", level, lab, _delta(correction, level, lab),
                cast=_cast(lab, correction.neutral, correction.paper_lab, correction.black_lab)
                if correction.toning
                else None,
            ),
            Course(
                "predicted",
                curve.levels,
                curve.lab,
                _delta(correction, curve.levels, curve.lab),
                curve.sd,
            ),
        ),
        tolerance(DEFAULT_TOLERANCE).max_delta_Ch,
        correction.toning is not None,
    )  # fmt: skip


def verification_courses(verification: Verification) -> BeforeAfter:
    """Return the ramp before, as predicted, and after."""
    before, cast = verification.before, None
    if verification.toning is not None:
        cast = _cast(before.patches.lab, verification.neutral, before.paper, before.black)
    return BeforeAfter(
        (
            replace(_course("before", before.patches), cast=cast),
            _course("predicted", verification.predicted.patches, verification.predicted_sd),
            _course("after", verification.after.patches),
        ),
        verification.after.neutrality.tolerance_max_delta_Ch,
        verification.toning is not None,
    )


def _cast(lab: Array, neutral: str, paper: Array, black: Array) -> Array:
    """Return a*, b* minus those at which a ramp's tones would look neutral, shape (n, 2)."""
    return lab[:, 1:] - neutral_aim(neutral, lab[:, 0], paper, black)


def _delta(correction: Correction, level: Array, lab: Array) -> Array:
    """Return L*, a*, b* minus their aims: that of L* at the level, of a*, b* at the L* measured."""
    aim_L = np.interp(level, correction.curve.levels, correction.aim_lab[:, 0])
    aim_ab = neutral_aim(
        neutral_aim_of(correction), lab[:, 0], correction.paper_lab, correction.black_lab
    )
    return lab - np.column_stack([aim_L, aim_ab])


def _course(name: str, patches: PatchTable, sd: Array | None = None) -> Course:
    delta = np.column_stack([patches.delta_L, patches.delta_ab])
    return Course(name, patches.level, patches.lab, delta, sd)


_BAND = "The grey band around the prediction is where 95 % of prints should lie. "


def strip_picture(shown: BeforeAfter) -> Picture:
    """Picture the first and the last ramp as they print."""
    first, last = shown.courses[0].name, shown.courses[-1].name
    enlarged = f"the distance from the aim {EXAGGERATION} times as large"
    if shown.toned:
        enlarged = (
            f"the cast {EXAGGERATION} times as strong {first}, and the distance from the toning "
            f"{EXAGGERATION} times as large {last}"
        )
    return Picture(
        partial(before_after_strip, shown),
        "ramps",
        alt=f"Strips of tones from black to paper, {first} above {last}, as they print and with "
        f"{enlarged}.",
        caption=f"Simulated tones, {first} above {last}. The lower pair shows {enlarged}, so that "
        "it is plain on any screen.",
    )


def colour_picture(shown: BeforeAfter) -> Picture:
    """Picture a*, b* and ΔCh against their aims."""
    # Paper and black are left out.
    most = [float(chroma(course.delta[1:-1, 1:]).max()) for course in shown.courses]
    named = zip(most, shown.courses, strict=True)
    largest = joined([f"{fixed(value)} {course.name}" for value, course in named])
    return Picture(
        partial(before_after_colour, shown),
        "colour",
        alt=f"a* and b* minus their aims, and ΔCh, over level. Largest ΔCh: {largest}.",
        caption=f"{_BAND}In the lowest panel the band is what passes: ΔCh up to "
        f"{shown.tolerance:g}. Where a line is above 0, that tone is redder or yellower than its "
        "aim.",
    )


def tone_picture(shown: BeforeAfter) -> Picture:
    """Picture L* against its aim."""
    largest = joined(
        [
            f"{fixed(float(np.abs(course.delta[:, 0]).max()))} {course.name}"
            for course in shown.courses
        ]
    )
    return Picture(
        partial(before_after_tone, shown),
        "tone",
        alt=f"L* minus its aim over level. Largest departure: {largest}.",
        caption=f"{_BAND}Above 0 a tone prints lighter than its aim.",
    )


def curve_picture(correction: Correction) -> Picture:
    """Picture what is sent instead of each level."""
    curve = correction.curve
    mean = curve.rgb.mean(axis=1)
    change = mean - curve.levels
    most = int(np.argmax(np.abs(change)))
    apart = float(np.abs(curve.rgb - mean[:, np.newaxis]).max())
    return Picture(
        partial(correction_curve, correction),
        "curve",
        alt=f"What is sent instead of each level. The mean of the channels changes most, by "
        f"{signed(float(change[most]), 3)}, at level {fixed(float(curve.levels[most]))}; a channel "
        f"lies at most {fixed(apart, 3)} from that mean.",
        caption="1 is the whole range from black to paper. The upper panel makes tones lighter or "
        "darker; the lower one is what turns their hue. The tones below are as predicted.",
    )


def preview_picture(preview: Preview, before: str, after: str) -> Picture:
    """Picture a picture on its paper; `before` and `after` say how far it is from neutral."""
    return Picture(
        partial(picture_before_after, preview),
        "picture",
        alt=f"The picture as it prints before and after the correction. Before: {before}. "
        f"After, as predicted: {after}.",
        caption=f"As it prints on this paper under {preview.light}, simulated from the reading; "
        f"below, casts {_STRONGER:g} times as strong, so that a screen shows them.",
    )
