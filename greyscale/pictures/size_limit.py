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
    refuse_no_pixels(path, width, height)


def refuse_no_pixels(path: Path, width: int, height: int) -> None:
    """Refuse a picture that claims to be without extent.

    Raises
    ------
    BadInput
        Saying so.
    """
    if not width or not height:
        raise BadInput("the picture has no pixels; take an undamaged copy", path)


MOST_BYTES = 450_000_000
"""Of the pixels that are written whole: 150 megapixels of 8-bit R, G, B, 75 of 16-bit. Writing them
takes up to 1.5 GB."""


def refuse_too_large(path: Path, what: str, size: int) -> None:
    """Refuse to write a PNG or JPEG of more than `MOST_BYTES` of pixels.

    Raises
    ------
    BadInput
        Naming the format that has no such limit.
    """
    if size > MOST_BYTES:
        raise BadInput(
            f"a {what} is written as a whole, which would take too much memory for these "
            f"{size / 1e6:.0f} MB of pixels; write a TIFF",
            path,
        )
