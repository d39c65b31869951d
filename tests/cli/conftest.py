"""What commands write is looked at here; what figures show, in tests/reporting and tests/demo."""

from io import BytesIO

import pytest
from PIL import Image

from greyscale.reporting.figures.drawn import DrawnFigure

SVG = b'<svg xmlns="http://www.w3.org/2000/svg" width="9pt" height="9pt" viewBox="0 0 9 9"></svg>'


def _png() -> bytes:
    file = BytesIO()
    Image.new("L", (9, 9), 255).save(file, "png")
    return file.getvalue()


@pytest.fixture(autouse=True, scope="package")
def empty_figures():
    """Have reports hold empty figures: drawing them would take most of these tests' time."""
    with pytest.MonkeyPatch.context() as patch:
        for form, content in (("svg", SVG), ("narrow_svg", SVG), ("png", _png())):
            patch.setattr(DrawnFigure, form, content)
        yield
