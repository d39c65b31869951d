"""A picture opened for reading, and what a picture to be written is like."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from greyscale.pictures.metadata import Metadata

Codes = NDArray[Any]
"""Pixels as they stand in a file, shape (rows, columns, channels): uint8, uint16 or float32."""

BAND_BYTES = 1 << 24
"""How much of a picture is held at a time, where its file lets it be read in bands."""

STRAIGHT, MULTIPLIED = "straight", "multiplied"
"""Kinds of transparency: colours as they are, or multiplied by how opaque they are."""


@dataclass(frozen=True)
class Form:
    """How a picture is stored.

    Attributes
    ----------
    width, height
        Pixels.
    colours
        1 for grey, 3 for R, G, B.
    extra
        Channels beside them: transparency and the like.
    kind
        uint8, uint16, or float32 from 0 to 1.
    alpha
        What the first of the extra channels is: `STRAIGHT` or `MULTIPLIED` transparency; None
        if it is something else, or there is none.
    profile
        The ICC profile embedded in it.
    metadata
        What it says of itself.
    compression
        For TIFF: "lzw", "deflate", or None.
    """

    width: int
    height: int
    colours: int
    extra: int
    kind: np.dtype[Any]
    alpha: str | None = None
    profile: bytes | None = None
    metadata: Metadata = field(default_factory=Metadata)
    compression: str | None = None

    @property
    def channels(self) -> int:
        """All channels."""
        return self.colours + self.extra

    @property
    def row_bytes(self) -> int:
        """Bytes of a row."""
        return self.width * self.channels * self.kind.itemsize

    @property
    def band_rows(self) -> int:
        """Rows of about `BAND_BYTES`."""
        return max(1, min(self.height, BAND_BYTES // self.row_bytes))


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture opened for reading.

    Attributes
    ----------
    path
        The file.
    format
        "TIFF", "PNG" or "JPEG".
    form
        How it is stored.
    encoding
        What the file says of its values where it has no profile: "srgb", "gamma-2.2", ... as
        `greyscale.aims.tone` names them; None where it says nothing.
    bands
        Gives the pixels from the top, in bands of full rows, 0 always black. It raises
        `BadInput` where the file is damaged.
    remarks
        What was decided in reading, as sentences to be shown.
    """

    path: Path
    format: str
    form: Form
    encoding: str | None
    bands: Callable[[], Iterator[Codes]]
    remarks: tuple[str, ...] = ()
