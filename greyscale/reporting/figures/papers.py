"""Figures of a comparison: papers by lights, their drift, their ramps side by side."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from greyscale.aims.neutral import neutral_aim
from greyscale.analysis.comparison import ComparedPaper, Comparison
from greyscale.colorimetry.arrays import Array
from greyscale.reporting.comparison_words import rank_word
from greyscale.reporting.figures.canvas import Canvas, Pen, box_outline, text_width
from greyscale.reporting.figures.labels import fill_row, label, lettering, two_lines
from greyscale.reporting.figures.plot import Figure, Panel, grid_of_panels, panels
from greyscale.reporting.numbers import fixed
from greyscale.reporting.style import AIM_LINE, LIGHT, Look, line

# Figure: papers by lights, each cell its mean ΔCh as a number on a shade of grey.

_MOST_ROWS = 40
"""Papers beyond these, by rank, are left to the table."""

DARKEST = 5.0
"""Mean ΔCh that is drawn as the darkest shade."""


def papers_by_lights(comparison: Comparison, look: Look = LIGHT) -> Figure:
    """Draw the heat table: the darker a cell, the farther the greys are from neutral."""
    papers = comparison.papers[:_MOST_ROWS]
    rows, columns = len(papers), len(comparison.lights) + 1
    names = [label(light, 44) for light in comparison.lights]
    longest = max(map(len, names))
    # Side by side if they fit, else leaning, the steeper the less room there is.
    lean = 0 if longest <= 60 / columns else 60 if look.narrow else 35
    head = 0.25 + 0.6 * look.font_size / 72 * longest * np.sin(np.radians(lean))
    figure, (panel,) = panels(look, (0.3 + head + 0.34 * rows,))
    for y, paper in enumerate(papers):
        under = paper.under
        figures = (
            under.mean_delta_Ch if comparison.viewer == "light" else under.mean_delta_Ch_to_paper
        )
        small = 1.5 if look.narrow and columns > 5 else 0
        for x, value in enumerate(figures):
            _draw_cell(panel, x, y, float(value), look.font_size - small)
        panel.text(
            columns - 0.35, y + 0.5, fixed(paper.score), across="center", down="center",
            bold=True, size=look.font_size - small,
        )  # fmt: skip
    panel.bare()
    panel.set_limits(x=(0, columns + 0.15), y=(rows, 0))
    places = [*(np.arange(columns - 1) + 0.5), columns - 0.35]
    panel.set_ticks(panel.x, [], [])
    limit = 16 if look.narrow else 30
    named = [f"{rank_word(paper)}  {two_lines(paper.name, limit)}" for paper in papers]
    panel.set_ticks(panel.y, np.arange(rows) + 0.5, named)
    _heads(panel, look, [*names, "score"], places, lean)
    return figure


def _heads(
    panel: Panel, look: Look, names: Sequence[str], places: Sequence[float], lean: int
) -> None:
    """Write the columns' names above them, leaning if they must."""
    size = look.font_size - 0.5
    longest = max(text_width(name, size) for name in names)
    last = text_width(names[-1], size) * np.cos(np.radians(lean))
    up = np.sin(np.radians(lean)) * longest
    panel.x_above = (float(up + 1.2 * size + 4), max(0.0, float(last) - 18.0) if lean else 0.0)
    for name, place in zip(names, places, strict=True):
        panel.text(
            place, 1.0, name, shares="y", size=size, angle=float(lean),
            offset=(0.0, 4.0 if lean else 5.0), across="left" if lean else "center",
        )  # fmt: skip


def _draw_cell(panel: Panel, x: int, y: int, value: float, size: float) -> None:
    """Draw a value on its shade: white to black, in one sense on a light and on a dark page."""
    grey = 0.98 - 0.9 * min(value / DARKEST, 1.0)
    shade = f"#{round(255 * grey):02x}" + 2 * f"{round(255 * grey):02x}"

    def draw(canvas: Canvas) -> None:
        (left, top), (right, bottom) = panel.at([x, x + 1], [y, y + 1]).tolist()
        # The page shows between neighbours.
        cell = box_outline((left + 0.75, top + 0.75, right - 0.75, bottom - 0.75))
        canvas.draw(cell, Pen(fill=shade, measured=True))

    panel.add(1.0, draw)
    panel.text(
        x + 0.5, y + 0.5, fixed(value), colour="#000000" if grey > 0.45 else "#ffffff",
        across="center", down="center", size=size, measured=True,
    )  # fmt: skip


# Figure: how far each paper's a*, b* lie from the aim under lights, in small multiples.

MOST_PAPERS = 12
"""Papers beyond these, by rank, are not drawn."""

MOST_LIGHTS = 4
"""As many lights go side by side in one figure."""

LEAST_SPAN = 3.0
"""The panels show at least this far to both sides of the aim."""


def papers_drift(shown: tuple[Comparison, Sequence[int]], look: Look = LIGHT) -> Figure:
    """Draw a panel for each paper and light: Δa*, Δb* from the neutral aim over level.

    Parameters
    ----------
    shown
        The comparison, and the indices of the lights: of several each has a column under its
        name, and each paper a row; of one the papers fill the page's width.
    """
    comparison, lights = shown
    papers = comparison.papers[:MOST_PAPERS]
    matrix = len(lights) > 1
    columns = len(lights) if matrix else min(2 if look.narrow else 4, len(papers))
    cases = list(product(papers, lights))
    rows = -(-len(cases) // columns)
    height = (1.25 if look.narrow else 1.45) if matrix else 1.6
    figure, drawn = grid_of_panels(look, 0.7 + height * rows, len(cases), columns)
    from_aim = [_from_aim(comparison, *case) for case in cases]
    reach = max(LEAST_SPAN, 1.05 * max(float(np.abs(one).max()) for one in from_aim))
    for panel, (paper, _), values in zip(drawn, cases, from_aim, strict=True):
        _panel(panel, look, paper.own.ramp.level, values)
    first = drawn[0]
    first.set_limits(x=(0, 1), y=(-reach, reach))
    first.y.whole, first.y.most = True, 4
    first.set_ticks(first.x, [0, 0.5, 1], ["0", "" if matrix and look.narrow else "0.5", "1"])
    if matrix:
        rooms = [drawn[i : i + columns] for i in range(0, len(drawn), columns)]
        _name_all(rooms, look, papers, [comparison.lights[light] for light in lights])
    else:
        for panel, (paper, _) in zip(drawn, cases, strict=True):
            panel.title = two_lines(paper.name, 20)
    figure.set_legend(first, 3)
    figure.x_label = "level sent, from black (0) to paper (1)"
    return figure


def _from_aim(comparison: Comparison, paper: ComparedPaper, light: int) -> Array:
    """Return Δa*, Δb* of a paper's tones under a light, shape (n, 2)."""
    lab, ramp = paper.under.lab[light], paper.own.ramp
    ends = lab[ramp.paper_index], lab[ramp.black_index]
    from_aim: Array = lab[:, 1:] - neutral_aim(comparison.neutral, lab[:, 0], *ends)
    return from_aim


def _panel(panel: Panel, look: Look, level: Array, from_aim: Array) -> None:
    for axis, name in ((0, "Δa*"), (1, "Δb*")):
        style = line(axis).options(look)
        style.update(size=2.6, every=(0, max(1, len(level) // 8)), width=1.3)
        panel.plot(level, from_aim[:, axis], label=name, clip=False, **style)
    panel.plot(
        [0.0, 1.0], [0.0, 0.0], label="neutral aim", color=look.ink, dashes=AIM_LINE, width=1.0
    )


def _name_all(
    grid: Sequence[Sequence[Panel]],
    look: Look,
    papers: Sequence[ComparedPaper],
    lights: Sequence[str],
) -> None:
    """Name each row above its first panel, and each column above all."""
    for row, paper in zip(grid, papers, strict=True):
        row[0].title = label(paper.name, 44 if look.narrow else 80)
    room = int((50 if look.narrow else 76) / len(lights))
    for panel, light in zip(grid[0], lights, strict=True):
        panel.text(
            0.5, 1, two_lines(light, room), shares="xy", offset=(0, 2.2 * look.font_size),
            across="center", down="bottom", size=look.font_size - 1,
        )  # fmt: skip


def papers_strips(shown: tuple[Comparison, int], look: Look = LIGHT) -> Figure:
    """Draw each paper's ramp by level, its CIELAB under a light as a screen shows it.

    Parameters
    ----------
    shown
        The comparison, and the index of the light; the viewer is held to be adapted to it.
    """
    comparison, light = shown
    papers = comparison.papers[:MOST_PAPERS]
    figure, (panel,) = panels(look, (0.55 + 0.5 * len(papers),))
    panel.bare()
    for row, paper in enumerate(reversed(papers)):
        fill_row(panel, paper.own.ramp.level, paper.under.lab[light], row + 0.08, 0.92)
        lettering(panel, row + 0.54, label(paper.name, 26))
    panel.set_limits(x=(0, 1), y=(0, len(papers)))
    panel.x_label = "level sent, from black (0) to paper (1)"
    return figure
