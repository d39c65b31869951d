"""How figures become files and parts of a page; the same figure gives the same bytes."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from greyscale.base.files import write_whole
from greyscale.base.folders import files_together
from greyscale.reporting.style import AS_MEASURED, LIGHT, Drawing, Look, applied, narrow

if TYPE_CHECKING:
    from matplotlib.figure import Figure


PIXELS_PER_INCH = 200
"""Resolution of the PNG files."""

_METADATA: dict[str, dict[str, str | None]] = {
    "png": {"Software": "greyscale"},
    "svg": {"Date": None, "Creator": "greyscale"},
}


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
    for number, artist in enumerate(figure.findobj(_is_as_measured)):
        # Ids of one file must differ.
        artist.set_gid(f"{AS_MEASURED}-{number}")
    target = BytesIO()
    with applied(look), _missing_glyphs_unsaid():
        figure.savefig(target, format=kind, dpi=PIXELS_PER_INCH, metadata=_METADATA[kind])
    return target.getvalue()


def _is_as_measured(artist: object) -> bool:
    gid = getattr(artist, "get_gid", lambda: None)()
    return isinstance(gid, str) and gid.startswith(AS_MEASURED)


@contextmanager
def _missing_glyphs_unsaid() -> Iterator[None]:
    """Keep quiet about names in scripts the font lacks; the page beside spells them out."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield


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
