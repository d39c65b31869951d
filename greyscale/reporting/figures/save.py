"""How figures become files and parts of a page; the same figure gives the same bytes."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from greyscale.base.files import write_whole
from greyscale.base.folders import files_together
from greyscale.reporting.style import AS_MEASURED, LIGHT, Look, applied

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
    """Give a figure's file: no date in it, text as outlines, ids that repeat.

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
