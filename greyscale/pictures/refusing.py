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
