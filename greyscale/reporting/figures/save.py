"""How figures become files and parts of a page; the same figure gives the same bytes."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import cached_property
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from greyscale.base.files import write_whole
from greyscale.base.folders import files_together
from greyscale.reporting.style import AS_MEASURED, LIGHT, Drawing, Look, applied, narrow

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


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
    for number, artist in enumerate(
        figure.findobj(lambda one: str(one.get_gid()).startswith(AS_MEASURED))
    ):
        # Ids of one file must differ.
        artist.set_gid(f"{AS_MEASURED}-{number}")
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
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    figure.set_dpi(PIXELS_PER_INCH)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    pixels = Image.fromarray(np.ascontiguousarray(np.asarray(canvas.buffer_rgba())[..., :3]))
    about = PngInfo()
    about.add_text("Software", "greyscale")
    resolution = (PIXELS_PER_INCH, PIXELS_PER_INCH)
    # Runs of one colour are nearly all that there is to be packed (zlib's Z_RLE).
    packing = {"compress_level": 1, "compress_type": 3}
    pixels.save(target, format="png", pnginfo=about, dpi=resolution, **packing)


# A figure in all the forms that a report needs, each drawn once and kept.


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
            return rendered(_laid_out(self._drawing, look), "svg", look)

    @cached_property
    def png(self) -> bytes:
        """As pixels, of the same size and layout as `svg`."""
        return self._wide_form("png")

    def _wide_form(self, kind: Literal["png", "svg"]) -> bytes:
        """Render the wide figure; the second form is the last to need it, and lets it go."""
        drawn, self._wide = self._wide, None
        with applied(LIGHT):
            if drawn is None:
                drawn = self._wide = _laid_out(self._drawing, LIGHT)
            return rendered(drawn, kind, LIGHT)


def _laid_out(drawing: Drawing, look: Look) -> Figure:
    """Draw a figure and lay it out once, so that no form of it is laid out again or otherwise.

    Call it inside `applied(look)`.
    """
    figure = drawing(look)
    engine = figure.get_layout_engine()
    if engine is not None:
        with ExitStack() as measuring:
            for panel in figure.axes:
                measuring.enter_context(_measured_once(panel))
            engine.execute(figure)
        figure.set_layout_engine(None)
    return figure


@contextmanager
def _measured_once(panel: Axes) -> Iterator[None]:
    """Have a panel measure only once how far its ticks and labels reach beyond it.

    The layout asks again after it has moved the panel, and measuring takes nearly all of its time.
    """
    from matplotlib.transforms import Bbox

    for spine in panel.spines.values():
        # Within what the ticks' labels take.
        spine.set_in_layout(False)
    for axis in (panel.xaxis, panel.yaxis):
        if not axis.get_label_text():
            # Where no label stands need not be looked for.
            axis.set_label_coords(0.0, 0.0)
    if panel.get_aspect() != "auto":
        yield
        return
    measure, beyond = panel.get_tightbbox, None

    def measured(*given: Any, **how: Any) -> Bbox | None:
        nonlocal beyond
        if beyond is None:
            found = measure(*given, **how)
            if found is None:
                return None
            beyond = np.subtract(found.extents, panel.bbox.extents)
        return Bbox.from_extents(*np.add(panel.bbox.extents, beyond))

    vars(panel)["get_tightbbox"] = measured
    yield
    del vars(panel)["get_tightbbox"]
