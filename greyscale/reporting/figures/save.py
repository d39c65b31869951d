"""How figures become files and parts of a page; the same figure gives the same bytes."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path

from greyscale.base.files import write_whole
from greyscale.base.folders import files_together
from greyscale.reporting.figures.canvas import Canvas, Definitions, InlineSvg
from greyscale.reporting.figures.plot import Drawing, Figure
from greyscale.reporting.style import LIGHT, narrow


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
        write_whole(fresh / paths[0].name, figure.canvas.png())
        write_whole(fresh / paths[1].name, figure.canvas.svg())
    return paths


class DrawnFigure:
    """A figure in all the forms that a report needs: for a wide page and a phone, on light ground.

    The page turns the colours for a dark screen, so that nothing need be drawn again for it.

    Parameters
    ----------
    drawing
        Draws it in the look it is given.
    """

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing

    @cached_property
    def _wide(self) -> Canvas:
        return self._drawing(LIGHT).canvas

    @cached_property
    def svg(self) -> bytes:
        """As a file."""
        return self._wide.svg()

    @cached_property
    def png(self) -> bytes:
        """As pixels, of the same size and layout as `svg`."""
        return self._wide.png()

    def inline(self, definitions: Definitions) -> InlineSvg:
        """As a part of a wide page that has these definitions."""
        return self._wide.inline(definitions)

    def inline_narrow(self, definitions: Definitions) -> InlineSvg:
        """As a part of the page on a phone."""
        return self._drawing(narrow(LIGHT)).canvas.inline(definitions)
