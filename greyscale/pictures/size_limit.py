"""How many pixels a picture may have that can only be read whole."""

from __future__ import annotations

from pathlib import Path

from greyscale.base.errors import BadInput

MOST_PIXELS = 178_000_000
"""About what takes 1 GB as 16-bit R, G, B; a file that claims more may be made to fill memory."""


def refuse_too_many(path: Path, width: int, height: int) -> None:
    """Refuse a PNG or JPEG that claims more than `MOST_PIXELS`.

    Raises
    ------
    BadInput
        Naming the way that such pictures can go.
    """
    if width * height > MOST_PIXELS:
        raise BadInput(
            f"the picture has {width} × {height} pixels, more than is safe to read in this format; "
            "save it as TIFF, which is read in strips",
            path,
        )
    if not width or not height:
        raise BadInput("the picture has no pixels; take an undamaged copy", path)
