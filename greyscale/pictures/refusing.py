"""How a picture that cannot be used is refused: what was found, and what to do."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.nearest import no_such_file

ADVICE = "save the picture as grey or RGB, TIFF, PNG or JPEG"


def damaged(path: Path, why: object) -> BadInput:
    """Say that a file is damaged."""
    reason = " ".join(str(why).split())
    return BadInput(f"the picture is damaged or cut short ({reason}); take an undamaged copy", path)


def unreadable(path: Path, error: OSError) -> BadInput:
    """Say that there is no such file, or that the system does not let it be read."""
    if isinstance(error, FileNotFoundError):
        return no_such_file(path)
    return BadInput(f"cannot be read ({error.strerror or error})", path)


@contextmanager
def libraries_silent() -> Iterator[None]:
    """Keep what a C library writes to the error stream from a person: it names no file."""
    try:
        kept = os.dup(2)
    except OSError:
        yield
        return
    sink = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(sink, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(sink)


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """Turn whatever a library raises over a damaged file into one message.

    Decoders raise errors of many kinds over bytes they did not expect. `BadInput` and a consumer
    that wants no more pass through.
    """
    try:
        yield
    except (BadInput, GeneratorExit):
        raise
    except MemoryError as error:
        raise BadInput(
            "the picture does not fit into memory; save it as TIFF in strips or tiles, "
            "uncompressed or with LZW or deflate",
            path,
        ) from error
    except OSError as error:
        raise (unreadable(path, error) if error.errno else damaged(path, error)) from error
    except Exception as error:
        raise damaged(path, error) from error


# How many pixels a picture may have that can only be read whole.

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
