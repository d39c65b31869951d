"""One look for every figure: sizes, inks, swatches, lines told apart without colour; its files."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, partial, wraps
from io import BytesIO
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Protocol, TypeVar

import numpy as np

from greyscale.base.files import write_whole
from greyscale.base.folders import files_together
from greyscale.base.libraries import import_matplotlib
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.display import lab_to_srgb

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.axis import XAxis, YAxis
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Look:
    """How figures are drawn for one kind of page.

    Attributes
    ----------
    width
        Inches; 96 of a screen's pixels each.
    font_size
        Points.
    narrow
        Whether the figure must fit a phone: fewer ticks, shorter labels, taller panels.
    ground, ink, muted, rule, band
        The page behind, then text and main lines, second text, grid lines, shaded bands. All
        exactly neutral, so that nothing tints the greys beside them.
    accents
        Line colours in order; every one has its own dashes and marker as well.
    """

    width: float
    font_size: float
    narrow: bool
    ground: str
    ink: str
    muted: str
    rule: str
    band: str
    accents: tuple[str, ...]


LIGHT = Look(
    width=7.5,
    font_size=9.5,
    narrow=False,
    ground="#ffffff",
    ink="#1a1a1a",
    muted="#5c5c5c",
    rule="#dcdcdc",
    band="#ececec",
    accents=("#1a1a1a", "#a34d12", "#0b6e78", "#8a2f6b", "#4b5fb0", "#5d6b13"),
)
"""The page on paper and on a light screen; the figures saved as files."""

DARK = replace(
    LIGHT,
    ground="#1c1c1c",
    ink="#ededed",
    muted="#adadad",
    rule="#3a3a3a",
    band="#2e2e2e",
    accents=("#ededed", "#f0a268", "#5fc4cf", "#e290c6", "#a3b4ff", "#bccb62"),
)
"""The page on a dark screen."""


def inks(look: Look) -> dict[str, str]:
    """Return the colours of a look by the names that the style sheet has for them.

    Examples
    --------
    >>> inks(LIGHT)["ink"], inks(DARK)["ink"]
    ('#1a1a1a', '#ededed')
    """
    names = ("ground", "ink", "muted", "rule", "band")
    named = {name: str(getattr(look, name)) for name in names}
    # The first accent is the ink.
    lines = {f"line-{n}": colour for n, colour in enumerate(look.accents[1:], start=2)}
    return {**named, **lines}


def narrow(look: Look) -> Look:
    """Return the same look for a phone's width."""
    return replace(look, width=3.7, font_size=8.5, narrow=True)


@dataclass(frozen=True)
class Line:
    """How one series is drawn: three marks beside its colour tell it from the others.

    Attributes
    ----------
    accent
        Index into `Look.accents`.
    """

    accent: int
    dashes: Any
    marker: str
    filled: bool

    def options(self, look: Look) -> dict[str, Any]:
        """Return the keywords for `Axes.plot`."""
        colour = look.accents[self.accent % len(look.accents)]
        return {
            "color": colour,
            "linestyle": self.dashes,
            "linewidth": 1.5,
            "marker": self.marker,
            "markersize": 3.6 if look.narrow else 4.2,
            "markerfacecolor": colour if self.filled else look.ground,
            "markeredgecolor": colour,
            "markeredgewidth": 1.1,
        }


_DASHES: tuple[Any, ...] = (
    "-",
    (0, (5, 2)),
    (0, (1.2, 1.4)),
    (0, (6, 1.6, 1.2, 1.6)),
    (0, (9, 2)),
    (0, (3, 1.4, 1, 1.4, 1, 1.4)),
)
# One more than dashes: the pairs repeat only after 42 series.
_MARKERS = (
    ("o", True),
    ("^", False),
    ("s", True),
    ("D", False),
    ("v", True),
    ("P", False),
    ("X", True),
)


def line(index: int) -> Line:
    """Return the style of a series by its place in the order: of lights, papers, prints.

    Examples
    --------
    >>> line(0)
    Line(accent=0, dashes='-', marker='o', filled=True)
    """
    marker, filled = _MARKERS[index % len(_MARKERS)]
    return Line(index % len(_DASHES), _DASHES[index % len(_DASHES)], marker, filled)


def marked_every(count: int, index: int) -> tuple[int, int]:
    """Say which points of a long line bear its marker, so that its dashes stay visible.

    Returns
    -------
    The first, different for neighbouring series, and the step: what `markevery` takes.

    Examples
    --------
    >>> marked_every(33, 1)
    (1, 4)
    """
    step = max(1, round(count / 8))
    return index % step, step


AS_MEASURED = "as-measured"
"""Begins the ids of artists whose fill, or whose letters, keep their colour on a dark page."""

_marked = count()
"""Numbers for these ids, which must differ within a file: from 0 on in each look that begins."""


def as_measured(artist: Artist) -> None:
    """Keep an artist's fill as it is on every page: a measured tone, or letters on one.

    All other colours of a figure are those of the look, and change with it.
    """
    artist.set_gid(f"{AS_MEASURED}-{next(_marked)}")


AIM_LINE = (0, (4, 2.5))
"""Dashes of everything aimed at, never of anything measured."""


_applied: list[Look] = []
"""Looks of the blocks that are running: the settings take long, and need not be made twice."""


@contextmanager
def applied(look: Look) -> Iterator[None]:
    """Draw and save figures in this look while the block runs."""
    global _marked
    if _applied[-1:] == [look]:
        yield
        return
    matplotlib = import_matplotlib()
    # From Matplotlib's own settings: a person's, or a file's in the working folder, could change
    # the figures, or start other programs.
    own = {k: v for k, v in matplotlib.rcParamsDefault.items() if k != "backend"}
    with matplotlib.rc_context(own):
        matplotlib.rcParams.update(_settings(look))
        _applied.append(look)
        _marked = count()
        try:
            yield
        finally:
            _applied.pop()


Drawing = Callable[[Look], "Figure"]
"""A figure still to be drawn in some look."""

Result = TypeVar("Result", contravariant=True)


class Drawn(Protocol[Result]):
    """A function that draws a result in a look."""

    def __call__(self, result: Result, look: Look = LIGHT) -> Figure:
        """Draw."""


def in_look(draw: Callable[[Result, Look], Figure]) -> Drawn[Result]:
    """Make a drawing function, `draw(result, look)`, run in that look; `LIGHT` if none is given."""

    @wraps(draw)
    def drawn(result: Result, look: Look = LIGHT) -> Figure:
        with applied(look):
            return draw(result, look)

    return drawn


def _settings(look: Look) -> dict[str, Any]:
    return {
        "font.family": "DejaVu Sans",
        "font.size": look.font_size,
        "text.color": look.ink,
        "text.hinting": "no_hinting",
        # Names come from files: a dollar sign is a dollar sign.
        "text.parse_math": False,
        "axes.edgecolor": look.muted,
        "axes.facecolor": look.ground,
        "axes.grid": True,
        "axes.grid.axis": "both",
        "axes.axisbelow": True,
        "axes.labelcolor": look.ink,
        "axes.labelsize": look.font_size,
        "axes.linewidth": 0.7,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.titlesize": look.font_size,
        "axes.titleweight": "bold",
        "axes.titlelocation": "left",
        "axes.titlepad": 7.0,
        # Where it stands anyway; looking for it takes a sixth of the time of a figure.
        "axes.titley": 1.0,
        "axes.unicode_minus": True,
        "figure.facecolor": look.ground,
        "figure.constrained_layout.w_pad": 0.04,
        "figure.constrained_layout.h_pad": 0.04,
        "figure.constrained_layout.hspace": 0.02,
        "grid.color": look.rule,
        "grid.linewidth": 0.7,
        "lines.solid_capstyle": "round",
        "xtick.color": look.muted,
        "ytick.color": look.muted,
        "xtick.labelcolor": look.ink,
        "ytick.labelcolor": look.ink,
        "xtick.labelsize": look.font_size - 0.5,
        "ytick.labelsize": look.font_size - 0.5,
        "xtick.major.size": 3.0,
        "ytick.left": False,
        "ytick.major.size": 0.0,
        "xtick.major.width": 0.7,
        "savefig.facecolor": look.ground,
        # Text as outlines looks the same on every machine; the salt makes ids repeatable.
        "svg.fonttype": "path",
        "svg.hashsalt": "greyscale",
    }


def panels(
    look: Look, heights: Sequence[float], *, share_x: bool = True
) -> tuple[Figure, tuple[Axes, ...]]:
    """Start a figure of panels above each other.

    Parameters
    ----------
    look
        Call it inside `applied(look)`.
    heights
        Inches of each panel, its labels included.

    Returns
    -------
    The figure and its panels, from the top.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(look.width, float(sum(heights))), layout="constrained")
    grid = figure.subplots(
        len(heights), 1, squeeze=False, sharex=share_x, height_ratios=list(heights)
    )
    if share_x:
        for panel in grid[:-1, 0]:
            panel.tick_params(bottom=False)
    return figure, tuple(grid[:, 0])


# Swatches: measured tones as colours a screen can draw, said to be a simulation.

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


# Figures as files: drawn, saved, and as reports need them.

PIXELS_PER_INCH = 200
"""Resolution of the PNG files."""

_ABOUT_SVG: dict[str, str | None] = {"Date": None, "Creator": "greyscale"}


def save_figure(figure: Figure, stem: Path | str) -> tuple[Path, Path]:
    """Write a figure as `stem`.png and `stem`.svg, both or none.

    Returns
    -------
    The two paths.

    Raises
    ------
    BadInput
        If a file cannot be written.
    """
    paths = (Path(f"{stem}.png"), Path(f"{stem}.svg"))
    with files_together(paths[0].parent) as fresh:
        write_whole(fresh / paths[0].name, rendered(figure, "png"))
        write_whole(fresh / paths[1].name, rendered(figure, "svg"))
    return paths


def rendered(figure: Figure, kind: Literal["png", "svg"], look: Look = LIGHT) -> bytes:
    """Return a figure's file: no date in it, text as outlines, ids that repeat.

    Parameters
    ----------
    look
        The look that it was drawn in.
    """
    target = BytesIO()
    with applied(look), warnings.catch_warnings():
        # Names in scripts that the font lacks: the page beside spells them out.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        if kind == "svg":
            figure.savefig(target, format="svg", metadata=_ABOUT_SVG)
        else:
            _write_png(figure, target)
    return target.getvalue()


def _write_png(figure: Figure, target: BytesIO) -> None:
    """Write it as Matplotlib does, but without its channel of opacity, which takes its time."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    from greyscale.pictures.picture import Form, Metadata, Resolution
    from greyscale.pictures.png import write

    figure.set_dpi(PIXELS_PER_INCH)
    canvas = figure.canvas
    if not isinstance(canvas, FigureCanvasAgg):
        canvas = FigureCanvasAgg(figure)
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())[..., :3]
    height, width, _ = pixels.shape
    fineness = Fraction(PIXELS_PER_INCH)
    about = Metadata(Resolution(fineness, fineness), texts=(("tEXt", b"Software\0greyscale"),))
    form = Form(width, height, 3, 0, np.dtype(np.uint8), metadata=about)
    write(target, form, iter([pixels]), quickly=True)


class DrawnFigure:
    """A figure drawn for a wide page and for a phone, on light ground.

    The page turns the colours for a dark screen, so that nothing need be drawn again for it.

    Parameters
    ----------
    drawing
        Draws it in the look it is given.
    """

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        self._wide: Figure | None = None

    @cached_property
    def svg(self) -> bytes:
        """For a wide page, a file, or print."""
        return self._wide_form("svg")

    @cached_property
    def narrow_svg(self) -> bytes:
        """For a phone."""
        look = narrow(LIGHT)
        with applied(look):
            return rendered(laid_out(self._drawing, look), "svg", look)

    @cached_property
    def png(self) -> bytes:
        """As pixels, of the same size and layout as `svg`."""
        return self._wide_form("png")

    def _wide_form(self, kind: Literal["png", "svg"]) -> bytes:
        """Render the wide figure; the second form is the last to need it, and lets it go."""
        drawn, self._wide = self._wide, None
        with applied(LIGHT):
            if drawn is None:
                drawn = self._wide = laid_out(self._drawing, LIGHT)
            return rendered(drawn, kind, LIGHT)


def laid_out(drawing: Drawing, look: Look) -> Figure:
    """Draw a figure and lay it out once, so that no form of it is laid out again or otherwise.

    Call it inside `applied(look)`.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure = drawing(look)
    # As for pixels, so that letters are measured once for both.
    figure.set_dpi(PIXELS_PER_INCH)
    FigureCanvasAgg(figure)
    axes: list[Any] = [axis for panel in figure.axes for axis in _axes_of(panel)]
    for axis in axes:
        # None are drawn between; and each is made as the axis says, as the first was.
        axis.minorTicks = []
        axis._copy_tick_props = lambda first, other: None
    grids = [axis for axis in axes if _ticks(axis)["gridOn"]]
    for axis in grids:
        axis.grid(False)
    engine = figure.get_layout_engine()
    if engine is not None:
        with ExitStack() as measuring:
            for panel in figure.axes:
                measuring.enter_context(_measured_once(panel))
            engine.execute(figure)
        figure.set_layout_engine(None)
    for axis in grids:
        _draw_grid(axis)
    for axis in axes:
        # Where its ticks are need not be looked for again in each form.
        if hasattr(axis, "_update_ticks"):
            axis._update_ticks = partial(list, axis._update_ticks())
    return figure


def _axes_of(panel: Axes) -> tuple[XAxis, YAxis]:
    return panel.xaxis, panel.yaxis


def _ticks(axis: XAxis | YAxis) -> dict[str, Any]:
    """How an axis has its ticks, labels and grid."""
    return dict(axis.get_tick_params())


def _draw_grid(axis: XAxis | YAxis) -> None:
    """Draw an axis' grid as one line: lines of its ticks take as long as all else of a panel."""
    import matplotlib
    from matplotlib.lines import Line2D

    low, high = np.sort(axis.get_view_interval())
    least = 1e-9 * (high - low)
    places = np.asarray(axis.get_majorticklocs(), dtype=np.float64)
    places = places[(places >= low - least) & (places <= high + least)]
    along = np.repeat(places, 3)
    across = np.tile([0.0, 1.0, np.nan], places.size)
    panel, is_x = axis.axes, axis.axis_name == "x"
    line = Line2D(
        *((along, across) if is_x else (across, along)),
        transform=panel.get_xaxis_transform() if is_x else panel.get_yaxis_transform(),
        color=matplotlib.rcParams["grid.color"],
        linewidth=matplotlib.rcParams["grid.linewidth"],
        zorder=axis.get_zorder(),
    )
    panel.add_artist(line)


@contextmanager
def _measured_once(panel: Axes) -> Iterator[None]:
    """Have a panel measure only once how far its ticks and labels reach beyond it.

    The layout asks again after it has moved the panel, and so does whatever draws it; measuring
    takes nearly all of the layout's time.
    """
    from matplotlib.transforms import Bbox, ScaledTranslation

    for spine in panel.spines.values():
        # Within what the ticks' labels take.
        spine.set_in_layout(False)
    for axis in _axes_of(panel):
        if not axis.get_label_text():
            # Where no label stands need not be looked for.
            axis.set_label_coords(0.0, 0.0)
    if panel.get_aspect() != "auto":
        yield
        return
    figure: Any = panel.get_figure(root=True)
    measure, beyond = panel.get_tightbbox, None

    def measured(*given: Any, **how: Any) -> Bbox | None:
        nonlocal beyond
        if beyond is None:
            found = measure(*given, **how)
            if found is None:
                return None
            beyond = np.subtract(found.extents, panel.bbox.extents)
            settle()
        return Bbox.from_extents(*np.add(panel.bbox.extents, beyond))

    def settle() -> None:
        """Keep labels where they are beside the panel, wherever it comes to stand."""
        inches = figure.dpi_scale_trans
        for axis in _axes_of(panel):
            x, y = axis.label.get_position()
            if axis.get_label_text() and axis.axis_name == "x":
                away = ScaledTranslation(0.0, (y - panel.bbox.y0) / figure.dpi, inches)
                axis.set_label_coords(x, 0.0, panel.transAxes + away)
            elif axis.get_label_text():
                away = ScaledTranslation((x - panel.bbox.x0) / figure.dpi, 0.0, inches)
                axis.set_label_coords(0.0, y, panel.transAxes + away)
            shown = any(on for name, on in _ticks(axis).items() if name.startswith("label"))
            # What all labels have in common, as a power of ten, is placed by their boxes.
            if shown and not axis.get_offset_text().get_text():
                for tick in axis.get_major_ticks():
                    tick.label1.set_in_layout(False)

    vars(panel)["get_tightbbox"] = measured
    yield
    del vars(panel)["get_tightbbox"]
