"""A figure in all the forms that a report needs, each drawn once and kept."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Literal

from greyscale.reporting.figures.save import rendered
from greyscale.reporting.style import LIGHT, Drawing, Look, applied, narrow

if TYPE_CHECKING:
    from matplotlib.figure import Figure


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
        return rendered(_laid_out(self._drawing, look), "svg", look)

    @cached_property
    def png(self) -> bytes:
        """As pixels, of the same size and layout as `svg`."""
        return self._wide_form("png")

    def _wide_form(self, kind: Literal["png", "svg"]) -> bytes:
        """Render the wide figure; the second form is the last to need it, and lets it go."""
        drawn, self._wide = self._wide, None
        if drawn is not None:
            return rendered(drawn, kind, LIGHT)
        self._wide = _laid_out(self._drawing, LIGHT)
        return rendered(self._wide, kind, LIGHT)


def _laid_out(drawing: Drawing, look: Look) -> Figure:
    """Draw a figure and lay it out once, so that no form of it is laid out again or otherwise."""
    figure = drawing(look)
    engine = figure.get_layout_engine()
    if engine is not None:
        with applied(look):
            engine.execute(figure)
        figure.set_layout_engine(None)
    return figure
