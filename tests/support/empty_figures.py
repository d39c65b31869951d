"""Empty figures in reports, for tests that look at anything but figures: drawing takes long."""

from __future__ import annotations

from functools import cache
from typing import Literal

import pytest

from greyscale.reporting.style import DrawnFigure, rendered


@cache
def _empty(kind: Literal["png", "svg"]) -> bytes:
    """Render a small figure as all are rendered, so that it is known as this program's."""
    from matplotlib.figure import Figure

    return rendered(Figure(figsize=(0.1, 0.1)), kind)


def have_empty_figures(patch: pytest.MonkeyPatch) -> None:
    """Have reports hold an empty figure wherever they would hold a drawn one."""
    for form, kind in (("svg", "svg"), ("narrow_svg", "svg"), ("png", "png")):
        patch.setattr(DrawnFigure, form, property(lambda _, kind=kind: _empty(kind)))
