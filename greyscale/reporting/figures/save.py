"""How figures become files and parts of a page; the same figure gives the same bytes."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from greyscale.files import write_whole
from greyscale.reporting.style import LIGHT, Drawing, Look, applied

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PIXELS_PER_INCH = 200
"""Resolution of the PNG files."""


def save_figure(figure: Figure, stem: Path | str) -> tuple[Path, Path]:
    """Write a figure as `stem`.png and `stem`.svg, each whole or not at all.

    Returns
    -------
    The two paths.

    Raises
    ------
    BadInput
        If a file cannot be written.
    """
    paths = (Path(f"{stem}.png"), Path(f"{stem}.svg"))
    for path, metadata in zip(paths, (_PNG, _SVG), strict=True):
        write_whole(path, _rendered(figure, LIGHT, path.suffix[1:], metadata))
    return paths


def svg(drawing: Drawing, look: Look = LIGHT) -> bytes:
    """Draw a figure as SVG: text as outlines, no date, ids that repeat."""
    return _rendered(drawing(look), look, "svg", _SVG)


_SVG = {"Date": None, "Creator": "greyscale"}
_PNG: dict[str, str | None] = {"Software": "greyscale"}


def _rendered(figure: Figure, look: Look, kind: str, metadata: dict[str, str | None]) -> bytes:
    target = BytesIO()
    with applied(look), _missing_glyphs_unsaid():
        figure.savefig(target, format=kind, dpi=PIXELS_PER_INCH, metadata=metadata)
    return target.getvalue()


@contextmanager
def _missing_glyphs_unsaid() -> Iterator[None]:
    """Keep quiet about names in scripts the font lacks; the page beside spells them out."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield
