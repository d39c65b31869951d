"""What figures are drawn on: outlines, marks, words and pixels; as SVG, within a page, as PNG.

Places and sizes are points, 72 to the inch, from the upper left corner. The same drawing gives the
same bytes.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from greyscale.charts.marks import Outline, glyph, typeset
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.reporting.style import LIGHT, inks

if TYPE_CHECKING:
    from PIL.Image import Image

PIXELS_PER_INCH = 200
"""Resolution of the PNG files."""

_POINTS_PER_INCH = 72.0
_ASCENT, _DESCENT, LINE = 0.76, 0.2, 1.2
"""Of letters above and below the line they stand on, and from line to line, in sizes."""

_MIDDLE = 0.36  # Half the height of digits and capitals, in sizes.
_SHARES = {"left": 0.0, "center": 0.5, "right": 1.0}

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""

Ink = Callable[[str, bool], str]
"""A colour as it is to be written, by `#rrggbb` and whether it must stay whatever the page."""


@dataclass
class Definitions:
    """What the figures of one page share: outlines of letters, marks, clipping shapes."""

    _ids: dict[str, str] = field(default_factory=dict)

    def id_of(self, markup: str) -> str:
        """Return the id of a definition, the same for the same markup."""
        return self._ids.setdefault(markup, f"d{len(self._ids)}")

    def markup(self) -> str:
        """Return all of them, to stand once in the page."""
        return "".join(
            markup.replace(" id=''", f' id="{name}"', 1) for markup, name in self._ids.items()
        )


@dataclass(frozen=True)
class InlineSvg:
    """One figure within a page.

    Attributes
    ----------
    view_box
        Of the `svg` element.
    content
        What stands in it; it refers to the page's definitions.
    """

    view_box: str
    content: str

    @property
    def ratio(self) -> float:
        """Height over width."""
        *_, width, height = (float(part) for part in self.view_box.split())
        return height / width


@dataclass(frozen=True)
class Pen:
    """How an outline is filled and drawn.

    Attributes
    ----------
    fill, stroke
        `#rrggbb`; empty for none.
    width
        Of the stroke.
    dashes
        Lengths of dashes and gaps, in widths; none for a line without.
    opacity
        From 0 to 1.
    round
        Whether ends and corners are.
    measured
        Whether the fill shows a measured tone, and stays on a dark page.
    """

    fill: str = ""
    stroke: str = ""
    width: float = 0.0
    dashes: tuple[float, ...] = ()
    opacity: float = 1.0
    round: bool = False
    measured: bool = False

    def style(self, ink: Ink) -> str:
        """Return the attribute of an SVG element, with a blank before it."""
        parts = [f"fill:{ink(self.fill, self.measured) if self.fill else 'none'}"]
        if self.stroke:
            parts += [f"stroke:{ink(self.stroke, False)}", f"stroke-width:{self.width:g}"]
        if self.dashes:
            lengths = " ".join(f"{self.width * length:g}" for length in self.dashes)
            parts.append(f"stroke-dasharray:{lengths}")
        if self.round:
            parts.append("stroke-linecap:round")
        if self.opacity != 1.0:
            parts.append(f"opacity:{self.opacity:g}")
        return f' style="{";".join(parts)}"'


def line_outline(places: ArrayLike, *, closed: bool = False) -> Outline:
    """The outline of straight lines from place to place, (n, 2)."""
    vertices = np.asarray(places, dtype=np.float64)
    codes = np.where(np.arange(len(vertices)) == 0, 1, 2)
    if closed:
        return Outline(np.vstack([vertices, vertices[:1]]), np.append(codes, _CLOSE))
    return Outline(vertices, codes)


def box_outline(box: Box) -> Outline:
    """The outline of a box."""
    left, top, right, bottom = box
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    return line_outline(corners, closed=True)


@lru_cache
def mark_outline(marker: str) -> Outline:
    """The outline of a marker of size 1 around 0, by Matplotlib's letter for it."""
    from matplotlib.markers import MarkerStyle

    style = MarkerStyle(marker)
    path = style.get_path().transformed(style.get_transform())
    vertices = np.asarray(path.vertices, dtype=np.float64) * np.array([1.0, -1.0])
    if path.codes is None:
        return line_outline(vertices)
    return Outline(vertices, np.asarray(path.codes, dtype=np.intp))


# The elements of a drawing. Each is written as SVG, and drawn into pixels.


@dataclass(frozen=True, eq=False)
class _Drawn:
    """An outline, once, or at each of the places (n, 2)."""

    outline: Outline
    pen: Pen
    clip: Box | None = None
    places: Array | None = None

    def svg(self, definitions: Definitions, ink: Ink) -> str:
        data = path_data(self.outline)
        style = self.pen.style(ink)
        if self.places is None:
            return _clipped(f'<path d="{data}"{style}/>', self.clip, definitions)
        name = definitions.id_of(f"<path id='' d=\"{data}\"/>")
        uses = "".join(
            f'<use href="#{name}" x="{x:g}" y="{y:g}"/>'
            for x, y in np.round(self.places, 2).tolist()
        )
        return f"<g{style}>{uses}</g>"

    def draw(self, agg: _Agg) -> None:
        agg.outline(self.outline, self.pen, self.clip, self.places)


@dataclass(frozen=True, eq=False)
class Words:
    """A line of text.

    Attributes
    ----------
    text
        What it says.
    x, y
        Where it starts, on the line it stands on.
    size
        Of its letters.
    colour
        `#rrggbb`.
    bold
        Whether it is.
    angle
        Degrees by which it rises.
    measured
        Whether its colour stays on a dark page: it stands on a measured tone.
    """

    text: str
    x: float
    y: float
    size: float
    colour: str
    bold: bool = False
    angle: float = 0.0
    measured: bool = False

    @property
    def box(self) -> Box:
        """What it covers."""
        width = text_width(self.text, self.size, self.bold)
        turn = np.exp(1j * np.radians(self.angle))
        ends = np.add.outer([0.0, width], [-1j * _DESCENT * self.size, 1j * _ASCENT * self.size])
        corners = self.x - 1j * self.y + turn * ends.ravel()
        left, right = float(corners.real.min()), float(corners.real.max())
        return left, float(-corners.imag.max()), right, float(-corners.imag.min())

    def svg(self, definitions: Definitions, ink: Ink) -> str:
        scale = self.size / 100.0
        placed, _ = typeset(self.text, self.bold)
        uses = "".join(
            f'<use href="#{definitions.id_of(_letter(name))}" x="{x:g}"/>' for name, x in placed
        )
        turned = f" rotate({-self.angle:g})" if self.angle else ""
        move = f"translate({_short(self.x)} {_short(self.y)}){turned} scale({scale:g} {-scale:g})"
        return f'<g transform="{move}" style="fill:{ink(self.colour, self.measured)}">{uses}</g>'

    def draw(self, agg: _Agg) -> None:
        agg.words(self)


@dataclass(frozen=True, eq=False)
class _Pixels:
    """A picture, 8-bit sRGB of shape (height, width, 3), in a box."""

    pixels: NDArray[np.uint8]
    box: Box

    def svg(self, definitions: Definitions, ink: Ink) -> str:
        left, top, right, bottom = self.box
        return (
            f'<image x="{_short(left)}" y="{_short(top)}" width="{_short(right - left)}" '
            f'height="{_short(bottom - top)}" preserveAspectRatio="none" '
            f'href="data:image/png;base64,{self._png}"/>'
        )

    @cached_property
    def _png(self) -> str:
        from PIL import Image

        target = BytesIO()
        Image.fromarray(self.pixels).save(target, format="png")
        return b64encode(target.getvalue()).decode("ascii")

    def draw(self, agg: _Agg) -> None:
        agg.pictures.append(self)


def path_data(outline: Outline) -> str:
    """Write an outline as the `d` of an SVG path, to a hundredth of a point."""
    places = [f"{x:g} {y:g}" for x, y in (np.round(outline.vertices, 2) + 0.0).tolist()]
    parts: list[str] = []
    more = 0
    for code, place in zip(outline.codes.tolist(), places, strict=True):
        if more:
            parts.append(f" {place}")
            more -= 1
        elif code == _CLOSE:
            parts.append("Z")
        else:
            letter, more = _COMMANDS[code]
            parts.append(f"{letter}{place}")
    return "".join(parts)


# Matplotlib's codes: SVG's letter, and how many further places belong to it.
_COMMANDS = {1: ("M", 0), 2: ("L", 0), 3: ("Q", 1), 4: ("C", 2)}
_CLOSE = 79


@lru_cache(maxsize=2048)
def _letter(name: str) -> str:
    return f"<path id='' d=\"{path_data(glyph(name))}\"/>"


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Say how wide a line of text runs."""
    return typeset(text, bold)[1] * size / 100.0


def _short(number: float) -> str:
    return f"{round(number, 2) + 0.0:g}"


def _clipped(element: str, clip: Box | None, definitions: Definitions) -> str:
    if clip is None:
        return element
    shape = path_data(box_outline(clip))
    name = definitions.id_of(f"<clipPath id=''><path d=\"{shape}\"/></clipPath>")
    return f'<g clip-path="url(#{name})">{element}</g>'


_VARIABLES = {colour: f"var(--{name})" for name, colour in inks(LIGHT).items()}


def _of_page(colour: str, measured: bool) -> str:
    """Each ink of the light look becomes a variable of the style sheet."""
    return colour if measured else _VARIABLES.get(colour, colour)


_ABOUT = (
    '<metadata><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" '
    'xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:cc="http://creativecommons.org/ns#">'
    "<cc:Work><dc:creator><cc:Agent><dc:title>greyscale</dc:title></cc:Agent></dc:creator>"
    "</cc:Work></rdf:RDF></metadata>"
)
"""By what `base.outputs` knows a file of its own."""


class Canvas:
    """A drawing.

    Parameters
    ----------
    width, height
        Points.
    ground
        Colour of the page behind, `#rrggbb`.
    """

    def __init__(self, width: float, height: float, ground: str) -> None:
        self.width, self.height, self.ground = width, height, ground
        self._elements: list[_Drawn | Words | _Pixels] = []

    def draw(self, outline: Outline, pen: Pen, clip: Box | None = None) -> None:
        """Draw an outline; what lies beyond `clip` is not seen."""
        if clip is not None and len(outline.vertices):
            low, high = outline.vertices.min(axis=0), outline.vertices.max(axis=0)
            if np.all(low >= clip[:2]) and np.all(high <= clip[2:]):
                clip = None
        self._elements.append(_Drawn(outline, pen, clip))

    def marks(self, outline: Outline, pen: Pen, places: Array) -> None:
        """Draw an outline at each of the places, shape (n, 2)."""
        if len(places):
            self._elements.append(_Drawn(outline, pen, None, places))

    def words(
        self,
        text: str,
        x: float,
        y: float,
        *,
        size: float,
        colour: str,
        bold: bool = False,
        across: str = "left",
        down: str = "baseline",
        angle: float = 0.0,
        measured: bool = False,
        ground: str = "",
    ) -> None:
        """Write lines of text.

        Parameters
        ----------
        across
            Which side of the text stands at `x`: "left", "center" or "right".
        down
            Which part at `y`: "baseline" of the first line, "top", "center" or "bottom".
        ground
            Colour of a box behind it; empty for none.
        """
        lines = text.split("\n")
        below = (len(lines) - 1) * LINE * size
        first = {
            "baseline": 0.0,
            "top": _ASCENT * size,
            "center": _MIDDLE * size - below / 2,
            "bottom": -_DESCENT * size - below,
        }[down]
        along = np.exp(1j * np.radians(angle))
        for number, line in enumerate(lines):
            start = -_SHARES[across] * text_width(line, size, bold)
            move = (start - 1j * (first + number * LINE * size)) * along
            words = Words(
                line,
                x + float(move.real),
                y - float(move.imag),
                size,
                colour,
                bold,
                angle,
                measured,
            )
            if ground:
                left, top, right, bottom = words.box
                behind = box_outline((left - 1, top, right + 1, bottom))
                self.draw(behind, Pen(fill=ground, opacity=0.8))
            self._elements.append(words)

    def pixels(self, pixels: NDArray[np.uint8], box: Box) -> None:
        """Show a picture, 8-bit sRGB of shape (height, width, 3), in a box."""
        self._elements.append(_Pixels(pixels, box))

    @property
    def written(self) -> Iterator[Words]:
        """All words on it."""
        return (one for one in self._elements if isinstance(one, Words) and one.text.strip())

    def inline(self, definitions: Definitions) -> InlineSvg:
        """Make it fit to stand within a page, drawn in `LIGHT` or its narrow form."""
        return InlineSvg(self._view_box, self._content(definitions, _of_page))

    def svg(self) -> bytes:
        """Make a file for itself: no date in it, text as outlines, ids that repeat."""
        definitions = Definitions()
        content = self._content(definitions, lambda colour, measured: colour)
        _, _, width, height = self._view_box.split()
        text = (
            '<?xml version="1.0" encoding="utf-8"?>\n'
            '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
            f'width="{width}pt" height="{height}pt" viewBox="{self._view_box}" '
            f'version="1.1">{_ABOUT}<defs>{definitions.markup()}</defs>{content}</svg>\n'
        )
        # As programs that know only SVG 1.1 look for it.
        return text.replace(' href="', ' xlink:href="').encode("utf-8")

    def png(self) -> bytes:
        """Make the same as pixels."""
        from PIL.PngImagePlugin import PngInfo

        about = PngInfo()
        about.add_text("Software", "greyscale")
        target = BytesIO()
        resolution = (PIXELS_PER_INCH, PIXELS_PER_INCH)
        _Agg.image(self).save(target, format="png", pnginfo=about, dpi=resolution, compress_level=3)
        return target.getvalue()

    @property
    def _view_box(self) -> str:
        return f"0 0 {_short(self.width)} {_short(self.height)}"

    def _content(self, definitions: Definitions, ink: Ink) -> str:
        page = Pen(fill=self.ground).style(ink)
        behind = f'<path d="{path_data(box_outline((0, 0, self.width, self.height)))}"{page}/>'
        return behind + "".join(one.svg(definitions, ink) for one in self._elements)

    def __iter__(self) -> Iterator[_Drawn | Words | _Pixels]:
        return iter(self._elements)


class _Agg:
    """A drawing as pixels, by Matplotlib's Agg."""

    def __init__(self, canvas: Canvas) -> None:
        from matplotlib.backends.backend_agg import RendererAgg
        from matplotlib.transforms import Affine2D

        self._scale = PIXELS_PER_INCH / _POINTS_PER_INCH
        self._height = round(canvas.height * self._scale)
        self._renderer = RendererAgg(
            round(canvas.width * self._scale), self._height, PIXELS_PER_INCH
        )
        # Its y runs upwards from the lower border.
        self._move = Affine2D().scale(self._scale, -self._scale).translate(0, self._height)
        self.pictures: list[_Pixels] = []

    @staticmethod
    def image(canvas: Canvas) -> Image:
        """Draw it all."""
        from PIL import Image

        agg = _Agg(canvas)
        agg.outline(box_outline((0, 0, canvas.width, canvas.height)), Pen(fill=canvas.ground))
        for element in canvas:
            element.draw(agg)
        # Without the channel of opacity, which would take its time.
        pixels = np.asarray(agg._renderer.buffer_rgba())[..., :3]
        image = Image.fromarray(np.ascontiguousarray(pixels))
        for picture in agg.pictures:
            left, top, right, bottom = (round(side * agg._scale) for side in picture.box)
            shown = Image.fromarray(picture.pixels)
            image.paste(shown.resize((right - left, bottom - top)), (left, top))
        return image

    def outline(
        self, outline: Outline, pen: Pen, clip: Box | None = None, places: Array | None = None
    ) -> None:
        """Draw an outline, once, or at each of the places (n, 2)."""
        from matplotlib.path import Path
        from matplotlib.transforms import Affine2D

        path, context = Path(outline.vertices, outline.codes), self._context(pen, clip)
        face = _rgba(pen.fill) if pen.fill else None
        if places is None:
            self._renderer.draw_path(context, path, self._move, face)
        else:
            turn = Affine2D().scale(self._scale, -self._scale)
            self._renderer.draw_markers(context, path, turn, Path(places), self._move, face)

    def words(self, words: Words) -> None:
        """Draw a line of text."""
        from matplotlib.path import Path
        from matplotlib.transforms import Affine2D

        placed, _ = typeset(words.text, words.bold)
        outlines = [(glyph(name), x) for name, x in placed]
        if not outlines:
            return
        letters = Path(
            np.concatenate([one.vertices + np.array([x, 0.0]) for one, x in outlines]),
            np.concatenate([one.codes for one, _ in outlines]),
        )
        scale = words.size / 100.0
        move = Affine2D().scale(scale, -scale).rotate_deg(-words.angle).translate(words.x, words.y)
        self._renderer.draw_path(
            self._context(Pen(), None), letters, move + self._move, _rgba(words.colour)
        )

    def _context(self, pen: Pen, clip: Box | None) -> Any:
        from matplotlib.transforms import Bbox

        context = self._renderer.new_gc()
        context.set_linewidth(pen.width if pen.stroke else 0.0)
        context.set_alpha(pen.opacity)
        if pen.stroke:
            context.set_foreground(_rgba(pen.stroke), isRGBA=True)
        if pen.dashes:
            context.set_dashes(0, [pen.width * length for length in pen.dashes])
        context.set_capstyle("round" if pen.round else "butt")
        context.set_joinstyle("round")
        if clip is not None:
            left, top, right, bottom = (side * self._scale for side in clip)
            context.set_clip_rectangle(
                Bbox([[left, self._height - bottom], [right, self._height - top]])
            )
        return context


@lru_cache(maxsize=512)
def _rgba(colour: str) -> tuple[float, float, float, float]:
    red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    return red, green, blue, 1.0
