"""Panels with axes, and what is drawn in them: laid out once, drawn on a `Canvas`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.reporting.figures.axis import Axis
from greyscale.reporting.figures.canvas import (
    LINE,
    Box,
    Canvas,
    Pen,
    box_outline,
    line_outline,
    mark_outline,
    text_width,
)
from greyscale.reporting.style import Look

_POINTS_PER_INCH = 72.0
_EDGE = 3.0  # Around a figure, points.
_GAP = 7.0  # Between panels.
_TICK, _TICK_GAP = 3.0, 3.0
_TITLE_GAP = 7.0
_MOST_STEPS = 9  # Between the ticks of an axis.
_THIN = 0.7

_BANDS, _LINES, _WORDS = 1.0, 2.0, 3.0
"""Orders of drawing: the later the higher."""


@dataclass(frozen=True, eq=False)
class Series:
    """A line, or marks, and how it is drawn: as `Panel.plot` was given it."""

    x: Array
    y: Array
    label: str
    how: dict[str, Any]


@dataclass(frozen=True, eq=False)
class Lettering:
    """Words in a panel, as `Panel.text` was given them."""

    text: str
    x: float
    y: float
    how: dict[str, Any]


class Panel:
    """One plane of a figure.

    Attributes
    ----------
    x, y
        Its axes, which other panels may share.
    title, x_label, y_label
        Above it, bold; below; beside.
    series, bands, tones, letterings, arrows, leaders
        What is drawn in it: lines and marks; x, lower and upper rim; the colours of each row of
        measured tones, from the left; words; tail and tip; names beside the ends of lines, as x,
        y, name, the height of the name, colour.
    grid, spines, x_numbers, y_numbers
        What is drawn of its axes.
    x_above
        Room above and to the right of it, in points, for numbers of x that stand there instead.
    legend
        What its lines mean, above it.
    box
        Where it lies, once it is laid out.
    """

    def __init__(self, look: Look, x: Axis, y: Axis) -> None:
        self.look, self.x, self.y = look, x, y
        self.title = self.x_label = self.y_label = ""
        self.series: list[Series] = []
        self.bands: list[tuple[Array, Array, Array]] = []
        self.tones: list[tuple[str, ...]] = []
        self.letterings: list[Lettering] = []
        self.arrows: list[tuple[Array, Array]] = []
        self.leaders: list[tuple[float, float, str, float, str]] = []
        self.shown = self.grid = True
        self.spines: tuple[str, ...] = ("left", "bottom")
        self.x_numbers = self.y_numbers = True
        self.x_above: tuple[float, float] | None = None
        self.legend: _Legend | None = None
        self.box: Box = (0.0, 0.0, 1.0, 1.0)
        self._items: list[tuple[float, Callable[[Canvas], None]]] = []

    def set_limits(
        self, *, x: tuple[float, float] | None = None, y: tuple[float, float] | None = None
    ) -> None:
        """Set from where to where the axes go; those not given stay."""
        self.x.limits = x or self.x.limits
        self.y.limits = y or self.y.limits

    def set_ticks(self, axis: Axis, ticks: ArrayLike, labels: Sequence[str] | None = None) -> None:
        """Mark one of its axes at these values."""
        axis.ticks, axis.labels = np.asarray(ticks, dtype=np.float64), labels

    def bare(self) -> None:
        """Leave out its grid, its sides and the numbers beside it."""
        self.grid, self.spines = False, ()
        self.set_ticks(self.y, [], [])

    def legend_above(self, columns: int = 4) -> None:
        """Say in rows above its title what each kind of line means."""
        self.legend = _Legend(self.look, labelled(self), columns)

    def at(self, x: ArrayLike, y: ArrayLike) -> Array:
        """Return where on the canvas values lie, shape (n, 2); once it is laid out."""
        left, top, right, bottom = self.box
        across = left + self.x.share(x) * (right - left)
        down = bottom - self.y.share(y) * (bottom - top)
        return np.stack(np.broadcast_arrays(across, down), axis=-1)

    def add(self, order: float, item: Callable[[Canvas], None]) -> None:
        """Have something drawn, the later the higher its order; the panel is laid out by then."""
        self._items.append((order, item))

    # What is drawn in it.

    def plot(
        self, x: ArrayLike, y: ArrayLike, *, label: str = "", order: float = _LINES, **how: Any
    ) -> None:
        """Draw a line through places, and marks on them.

        Parameters
        ----------
        label
            What it is, in the legend; empty leaves it out.
        order
            The later drawn the higher.
        how
            As `style.Line.options` has it: color, width, dashes, marker, size, face, edge; and
            every: which places bear a marker (first, step).
        """
        series = Series(
            np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64), label, how
        )
        self.series.append(series)
        self.x.holds(series.x)
        self.y.holds(series.y)
        self.add(order, lambda canvas: self._draw_series(canvas, series))

    def _draw_series(self, canvas: Canvas, series: Series) -> None:
        known = np.isfinite(series.y)
        places, how = self.at(series.x[known], series.y[known]), series.how
        if not len(places):
            return
        if how.get("width", 0) and len(places) > 1:
            pen = Pen(stroke=how["color"], width=how["width"], dashes=how.get("dashes", ()))
            canvas.draw(line_outline(places), pen, self.box if how.get("clip", True) else None)
        if how.get("marker"):
            first, step = how.get("every", (0, 1))
            _draw_marks(canvas, self._within(places[first::step], how), how)

    def _within(self, places: Array, how: dict[str, Any]) -> Array:
        left, top, right, bottom = self.box
        if not how.get("clip", True):
            return places
        inside = (places >= (left - 0.5, top - 0.5)) & (places <= (right + 0.5, bottom + 0.5))
        return np.asarray(places[inside.all(axis=1)])

    def level_line(
        self, y: float, color: str, width: float, dashes: tuple[float, ...] = (), order: float = 2.0
    ) -> None:
        """Draw a line over the whole width."""
        self.y.holds([y])

        def draw(canvas: Canvas) -> None:
            left, _, right, _ = self.box
            height = float(self.at(self.x.reach[0], y)[1])
            line = line_outline([(left, height), (right, height)])
            canvas.draw(line, Pen(stroke=color, width=width, dashes=dashes), self.box)

        self.add(order, draw)

    def upright_line(
        self, x: float, color: str, width: float, dashes: tuple[float, ...] = (), foot: float = 0.0
    ) -> None:
        """Draw a line over the whole height, or from a share of it up."""

        def draw(canvas: Canvas) -> None:
            _, top, _, bottom = self.box
            place = float(self.at(x, self.y.reach[0])[0])
            line = line_outline([(place, bottom - foot * (bottom - top)), (place, top)])
            canvas.draw(line, Pen(stroke=color, width=width, dashes=dashes), self.box)

        self.add(_LINES, draw)

    def level_band(self, low: float, high: float, color: str) -> None:
        """Shade from one value of y to another."""
        self.y.holds([low, high])

        def draw(canvas: Canvas) -> None:
            left, _, right, _ = self.box
            (_, foot), (_, head) = self.at(self.x.reach[0], [low, high])
            band = box_outline((left, float(head), right, float(foot)))
            canvas.draw(band, Pen(fill=color), self.box)

        self.add(_BANDS, draw)

    def upright_band(self, low: float, high: float, color: str, opacity: float = 1.0) -> None:
        """Shade from one value of x to another."""

        def draw(canvas: Canvas) -> None:
            _, top, _, bottom = self.box
            (start, _), (end, _) = self.at([low, high], self.y.reach[0])
            band = box_outline((float(start), top, float(end), bottom))
            canvas.draw(band, Pen(fill=color, opacity=opacity), self.box)

        self.add(_BANDS, draw)

    def band(
        self, x: ArrayLike, low: ArrayLike, high: ArrayLike, color: str, label: str = ""
    ) -> None:
        """Shade between two lines."""
        across = np.asarray(x, dtype=np.float64)
        lower, upper = (np.broadcast_to(one, across.shape) for one in (low, high))
        self.bands.append((across, lower, upper))
        if label:
            self.shade_in_legend(color, label)
        self.x.holds(across)
        self.y.holds([lower, upper])

        def draw(canvas: Canvas) -> None:
            rim = np.concatenate([self.at(across, lower), self.at(across, upper)[::-1]])
            canvas.draw(line_outline(rim, closed=True), Pen(fill=color), self.box)

        self.add(_BANDS, draw)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        offset: tuple[float, float] = (0.0, 0.0),
        shares: str = "",
        **how: Any,
    ) -> None:
        """Write words at a place.

        Parameters
        ----------
        offset
            Points to the right, and upwards.
        shares
            "y" if y is a share of the panel's height, "xy" if both are of its size.
        how
            As `Canvas.words` has it.
        """
        how = {"size": self.look.font_size, "colour": self.look.ink, **how}
        self.letterings.append(Lettering(text, x, y, {**how, "offset": offset, "shares": shares}))

        def draw(canvas: Canvas) -> None:
            left, top, right, bottom = self.box
            across, down = self.at(
                self.x.reach[0] if "x" in shares else x, self.y.reach[0] if "y" in shares else y
            )
            across = left + x * (right - left) if "x" in shares else across
            down = bottom - y * (bottom - top) if "y" in shares else down
            canvas.words(text, float(across) + offset[0], float(down) - offset[1], **how)

        self.add(_WORDS, draw)

    def shade_in_legend(self, color: str, label: str) -> None:
        """Say in the legend what something shaded is."""
        self.series.append(Series(np.empty(0), np.empty(0), label, {"band": color}))

    def arrow(self, tail: ArrayLike, tip: ArrayLike, size: float) -> None:
        """Draw an arrow, its head filled and so many points wide, from one place to another."""
        ends = np.asarray([tail, tip], dtype=np.float64)
        self.arrows.append((ends[0], ends[1]))

        def draw(canvas: Canvas) -> None:
            start, end = self.at(*ends.T)
            along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
            beside, back = np.array([-along[1], along[0]]) * 0.4 * size / 2, 0.4 * size * along
            head = line_outline([end, end - back + beside, end - back - beside], closed=True)
            canvas.draw(head, Pen(self.look.ink, self.look.ink, 0.5))

        self.add(4.0, draw)

    def row_of_tones(
        self, edges: Array, colours: Sequence[str], bottom: float, height: float
    ) -> None:
        """Draw tones as touching boxes: n colours between n + 1 edges."""
        self.tones.append(tuple(colours))
        # Each reaches under the next: no hair line shows between two neighbours.
        reach = np.append(edges[2:], edges[-1:])

        def draw(canvas: Canvas) -> None:
            (_, foot), (_, head) = self.at(edges[0], [bottom, bottom + height])
            starts, ends = self.at(edges[:-1], bottom)[:, 0], self.at(reach, bottom)[:, 0]
            for start, end, colour in zip(starts.tolist(), ends.tolist(), colours, strict=True):
                box = box_outline((start, float(head), end, float(foot)))
                canvas.draw(box, Pen(fill=colour, measured=True), self.box)

        self.add(_BANDS, draw)

    # How it is laid out and drawn.

    def settle(self, width: float, height: float) -> None:
        """Choose the ticks for a size, in points."""
        size = self.look.font_size - 0.5
        self.x.settle(min(int(width / (3 * size)), _MOST_STEPS))
        self.y.settle(min(int(height / (2 * size)), _MOST_STEPS))

    def margins(self, width: float, figure_width: float) -> Box:
        """Return what it needs beside it of points: left, top, right, bottom."""
        look, size = self.look, self.look.font_size - 0.5
        left = top = right = bottom = 0.0
        if self.y_numbers:
            labels = [text_width(part, size) for _, label in self.y.shown()
                      for part in label.split("\n")]  # fmt: skip
            left = max(labels, default=0.0) + _TICK_GAP + 0.5
        if self.y_label:
            left += LINE * look.font_size + 4
        if self.x_above is not None:
            top, right = self.x_above
        elif self.x_numbers:
            shown = self.x.shown()
            lines = max((label.count("\n") + 1 for _, label in shown), default=0)
            bottom = _TICK + _TICK_GAP + lines * LINE * size
            for share, label in shown:
                half = max(text_width(part, size) for part in label.split("\n")) / 2
                left = max(left, half - share * width)
                right = max(right, half - (1 - share) * width)
        if self.x_label:
            bottom += 2 + LINE * look.font_size
        if self.title:
            lines = self.title.count("\n")
            top += _TITLE_GAP + (0.76 + lines * LINE) * look.font_size
        for one in self.letterings:
            if "y" in one.how["shares"] and one.y == 1 and one.how["offset"][1] > 0:
                lines = one.text.count("\n") + 1
                top = max(top, one.how["offset"][1] + lines * LINE * one.how["size"])
        for _, _, name, _, _ in self.leaders:
            right = max(right, 0.025 * width + text_width(name, look.font_size) + 2)
        if self.legend is not None:
            top += self.legend.height(figure_width) + 2
        return left, top, right, bottom

    def draw(self, canvas: Canvas) -> None:
        """Draw it in its box."""
        self._draw_axes(canvas)
        for _, item in sorted(self._items, key=lambda pair: pair[0]):
            item(canvas)
        self._draw_sides(canvas)
        left, top, right, _ = self.box
        look = self.look
        if self.title:
            lines = self.title.count("\n")
            canvas.words(
                self.title, left, top - _TITLE_GAP - lines * LINE * look.font_size,
                size=look.font_size, colour=look.ink, bold=True,
            )  # fmt: skip
        if self.legend is not None:
            above = (_TITLE_GAP + 0.76 * look.font_size + 4) if self.title else 4
            self.legend.draw(canvas, left, top - above - self.legend.height(canvas.width),
                             canvas.width)  # fmt: skip
        for x, y, name, place, colour in self.leaders:
            (start, from_y), (_, to_y) = self.at(x, [y, place])
            end = right + 0.025 * (right - left)
            hair = line_outline([(float(start) + 4, float(from_y)), (end - 2, float(to_y))])
            canvas.draw(hair, Pen(stroke=colour, width=0.6))
            canvas.words(name, end, float(to_y), size=look.font_size, colour=colour, down="center")

    def _draw_axes(self, canvas: Canvas) -> None:
        left, top, right, bottom = self.box
        rule = Pen(stroke=self.look.rule, width=_THIN)
        small: dict[str, Any] = {"size": self.look.font_size - 0.5, "colour": self.look.ink}
        for share, label in self.x.shown():
            place = left + share * (right - left)
            if self.grid:
                canvas.draw(line_outline([(place, top), (place, bottom)]), rule)
            if self.x_numbers and self.x_above is None:
                canvas.words(label, place, bottom + _TICK + _TICK_GAP, across="center", down="top",
                             **small)  # fmt: skip
        for share, label in self.y.shown():
            place = bottom - share * (bottom - top)
            if self.grid:
                canvas.draw(line_outline([(left, place), (right, place)]), rule)
            if self.y_numbers:
                canvas.words(label, left - _TICK_GAP, place, across="right", down="center", **small)

    def _draw_sides(self, canvas: Canvas) -> None:
        left, top, right, bottom = self.box
        side, look = Pen(stroke=self.look.muted, width=_THIN), self.look
        if "left" in self.spines:
            canvas.draw(line_outline([(left, top), (left, bottom)]), side)
        if "bottom" in self.spines:
            canvas.draw(line_outline([(left, bottom), (right, bottom)]), side)
        if self.x_numbers and self.x_above is None:
            for share, _ in self.x.shown():
                place = left + share * (right - left)
                canvas.draw(line_outline([(place, bottom), (place, bottom + _TICK)]), side)
        if self.x_label:
            lines = max((label.count("\n") + 1 for _, label in self.x.shown()), default=0)
            below = bottom + 2
            if self.x_numbers:
                below += _TICK + _TICK_GAP + lines * LINE * (look.font_size - 0.5)
            canvas.words(self.x_label, (left + right) / 2, below, size=look.font_size,
                         colour=look.ink, across="center", down="top")  # fmt: skip
        if self.y_label:
            numbers = [text_width(label, look.font_size - 0.5) for _, label in self.y.shown()]
            beside = (max(numbers, default=0.0) if self.y_numbers else 0.0) + _TICK_GAP + 5
            canvas.words(self.y_label, left - beside, (top + bottom) / 2, size=look.font_size,
                         colour=look.ink, across="center", angle=90.0)  # fmt: skip


def _draw_marks(canvas: Canvas, places: Array, how: dict[str, Any]) -> None:
    """Draw a series' marker at places on the canvas."""
    mark, size = mark_outline(how["marker"]), how["size"]
    edge = how.get("edge_width", 1.1)
    pen = Pen(fill=how.get("face", ""), stroke=how.get("edge", how["color"]), width=edge)
    canvas.marks(type(mark)(mark.vertices * size, mark.codes), pen, places)


@dataclass(frozen=True, eq=False)
class _Legend:
    """What each kind of line means, in rows."""

    look: Look
    series: Sequence[Series]
    columns: int

    def _rows(self, width: float) -> list[list[tuple[float, Series]]]:
        """Set the entries side by side as long as they fit; where each begins."""
        size = self.look.font_size
        sample = (2.0 if self.look.narrow else 2.4) * size + 0.6 * size
        between = (1.0 if self.look.narrow else 1.5) * size
        wide = [sample + text_width(one.label, size) + between for one in self.series]
        # All in columns of one width each, as many as there is room for.
        columns = min(self.columns, len(wide)) or 1
        while columns > 1:
            widths = [max(wide[c::columns]) for c in range(columns)]
            if sum(widths) - between <= width - 12 * _EDGE:
                break
            columns -= 1
        widths = [max(wide[c::columns], default=0.0) for c in range(columns)]
        starts = np.concatenate([[0.0], np.cumsum(widths)]).tolist()
        rows = [self.series[i : i + columns] for i in range(0, len(self.series), columns)]
        return [list(zip(starts, row, strict=False)) for row in rows]

    def height(self, width: float) -> float:
        """Return how high it is."""
        return len(self._rows(width)) * 1.35 * self.look.font_size

    def draw(self, canvas: Canvas, left: float, top: float, width: float) -> None:
        """Draw it with its upper left corner there."""
        size = self.look.font_size
        long = (2.0 if self.look.narrow else 2.4) * size
        for number, row in enumerate(self._rows(width)):
            middle = top + (number * 1.35 + 0.6) * size
            for start, one in row:
                begin, how = left + start, one.how
                line = line_outline([(begin, middle), (begin + long, middle)])
                if "band" in how:
                    band = (begin, middle - 0.35 * size, begin + long, middle + 0.35 * size)
                    canvas.draw(box_outline(band), Pen(fill=how["band"]))
                elif how.get("width", 0):
                    pen = Pen(stroke=how["color"], width=how["width"], dashes=how.get("dashes", ()))
                    canvas.draw(line, pen)
                if how.get("marker"):
                    _draw_marks(canvas, np.array([[begin + long / 2, middle]]), how)
                canvas.words(one.label, begin + long + 0.6 * size, middle, size=size,
                             colour=self.look.ink, down="center")  # fmt: skip


def labelled(panel: Panel) -> list[Series]:
    """Return the series of a panel that have a label, each label once."""
    found = {one.label: one for one in panel.series if one.label}
    return list(found.values())


@dataclass(eq=False)
class Figure:
    """Panels in rows and columns, as wide as the look.

    Attributes
    ----------
    look
        How it is drawn.
    height
        Inches.
    grid
        The panels, row by row, of as many columns each.
    heights
        How high the rows are, one against another.
    square
        Whether panels are as wide as they are high.
    legend
        In a row above all; None for none.
    x_label
        Below all.
    """

    look: Look
    height: float
    grid: list[list[Panel]]
    heights: Sequence[float]
    square: bool = False
    legend: _Legend | None = None
    x_label: str = ""

    @property
    def axes(self) -> list[Panel]:
        """All panels that are shown, row by row."""
        return [panel for row in self.grid for panel in row if panel.shown]

    def set_legend(self, panel: Panel, columns: int) -> None:
        """Say above all what the lines of a panel mean."""
        self.legend = _Legend(self.look, labelled(panel), columns)

    @cached_property
    def canvas(self) -> Canvas:
        """It, drawn."""
        width = self.look.width * _POINTS_PER_INCH
        height = self._lay_out(width, self.height * _POINTS_PER_INCH)
        canvas = Canvas(width, height, self.look.ground)
        size = self.look.font_size
        if self.legend is not None:
            self.legend.draw(
                canvas, self.axes[0].box[0] if not self.square else _EDGE, _EDGE, width
            )
        for panel in self.axes:
            panel.draw(canvas)
        if self.x_label:
            canvas.words(self.x_label, width / 2, height - _EDGE, size=size, colour=self.look.ink,
                         across="center", down="bottom")  # fmt: skip
        return canvas

    def _lay_out(self, width: float, height: float) -> float:
        """Give each panel its box, all rows as high as their heights are to each other.

        Returns
        -------
        The height of all: less than asked for where square panels do not fill it.
        """
        rows, columns = len(self.grid), len(self.grid[0])
        shares = np.asarray(self.heights, dtype=np.float64) / sum(self.heights)
        for panel in self.axes:
            row = next(r for r, line in enumerate(self.grid) if panel in line)
            panel.settle(0.85 * width / columns, 0.72 * height * float(shares[row]))
        needed = np.array(
            [
                [
                    panel.margins(0.85 * width / columns, width) if panel.shown else (0, 0, 0, 0)
                    for panel in line
                ]
                for line in self.grid
            ]
        )
        left, right = needed[..., 0].max(axis=0), needed[..., 2].max(axis=0)
        top, bottom = needed[..., 1].max(axis=1), needed[..., 3].max(axis=1)
        head = _EDGE + (0.0 if self.legend is None else self.legend.height(width) + 4)
        foot = _EDGE + (LINE * self.look.font_size + 2 if self.x_label else 0.0)
        inner = (width - 2 * _EDGE - left.sum() - right.sum() - _GAP * (columns - 1)) / columns
        room = height - head - foot - top.sum() - bottom.sum() - _GAP * (rows - 1)
        high = room * shares
        start = _EDGE
        if self.square:
            inner = min(inner, float(high.min()))
            high = np.full(rows, inner)
            whole = inner * columns + left.sum() + right.sum() + _GAP * (columns - 1)
            start = (width - whole) / 2
        y = head
        for r, line in enumerate(self.grid):
            x, y = start, y + float(top[r])
            for c, panel in enumerate(line):
                x += float(left[c])
                panel.box = (x, y, x + float(inner), y + float(high[r]))
                x += float(inner + right[c]) + _GAP
            y += float(high[r] + bottom[r]) + _GAP
        return float(y) - _GAP + foot if self.square else height


Drawing = Callable[[Look], Figure]
"""A figure still to be drawn in some look."""


def panels(
    look: Look, heights: Sequence[float], *, share_x: bool = True
) -> tuple[Figure, tuple[Panel, ...]]:
    """Start a figure of panels above each other.

    Parameters
    ----------
    heights
        Inches of each panel, its labels included.
    share_x
        Whether they have one x axis, whose numbers stand below the lowest.

    Returns
    -------
    The figure and its panels, from the top.
    """
    shared = Axis()
    column = [Panel(look, shared if share_x else Axis(), Axis()) for _ in heights]
    for panel in column[:-1]:
        panel.x_numbers = not share_x
    figure = Figure(look, float(sum(heights)), [[panel] for panel in column], list(heights))
    return figure, tuple(column)


def grid_of_panels(
    look: Look, height: float, count: int, columns: int, *, square: bool = False
) -> tuple[Figure, list[Panel]]:
    """Start a figure of so many panels side by side and above each other, with the same axes.

    Returns
    -------
    The figure, `height` inches high, and its panels, row by row.
    """
    x, y = Axis(), Axis()
    rows = -(-count // columns)
    grid = [[Panel(look, x, y) for _ in range(columns)] for _ in range(rows)]
    flat = [panel for row in grid for panel in row]
    for place, panel in enumerate(flat):
        panel.shown = place < count
        panel.x_numbers = place + columns >= count
        panel.y_numbers = place % columns == 0
    return Figure(look, height, grid, [1.0] * rows, square), flat[:count]


def pixels_in(panel: Panel, pixels: NDArray[np.uint8]) -> None:
    """Fill a panel with a picture, 8-bit sRGB of shape (height, width, 3), and nothing else."""
    panel.bare()
    panel.set_ticks(panel.x, [], [])
    panel.x_numbers = panel.y_numbers = False
    panel.add(_BANDS, lambda canvas: canvas.pixels(pixels, panel.box))
