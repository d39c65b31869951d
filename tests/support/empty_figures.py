"""Empty figures in reports, for tests that look at anything but figures: drawing takes long."""

from __future__ import annotations

from functools import cache

import pytest

from greyscale.reporting.figures.canvas import Canvas
from greyscale.reporting.figures.save import DrawnFigure

_EMPTY = Canvas(7.2, 7.2, "#ffffff")


@cache
def _empty_png() -> bytes:
    return _EMPTY.png()


def have_empty_figures(patch: pytest.MonkeyPatch) -> None:
    """Have reports hold an empty figure wherever they would hold a drawn one."""
    patch.setattr(DrawnFigure, "_wide", _EMPTY)
    patch.setattr(DrawnFigure, "png", property(lambda _: _empty_png()))
    patch.setattr(DrawnFigure, "inline_narrow", DrawnFigure.inline)
