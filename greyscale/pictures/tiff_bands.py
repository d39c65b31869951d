"""The pixels of a TIFF in bands of rows, however it stores them: strips, tiles, planes."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from io import BufferedReader
from math import ceil
from pathlib import Path
from typing import Any

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.pictures.picture import Codes, Form
from greyscale.pictures.refusing import damaged

_LARGEST_PIECE = 1 << 30
"""A strip or tile of more than 1 GiB is not decoded."""

_DENSEST = {5: 1500, 8: 1100, 32946: 1100, 32773: 70}
"""How many times smaller LZW, deflate and PackBits can make data at most, and a little more."""


def page_bands(page: Any, form: Form, path: Path) -> Iterator[Codes]:
    """Give the pixels of a page of `tifffile` from the top.

    Yields
    ------
    Arrays of shape (rows, width, channels), of `form.kind`, that may be written to.

    Raises
    ------
    BadInput
        If the file cannot hold what it says.
    """
    pieces = _Pieces.of(page)
    _refuse_lies(page, pieces, path)
    with path.open("rb") as file:
        if page.is_contiguous and page.fillorder == 1:
            yield from _stored_bands(page, form, file)
        else:
            yield from _decoded_bands(page, pieces, form, file)


@dataclass(frozen=True)
class _Pieces:
    """How a page is cut into strips or tiles.

    Attributes
    ----------
    height, width
        Of one, pixels.
    across, down
        How many lie beside and below each other.
    planes
        How often, once for each channel where these are apart.
    bytes
        Of one, decoded.
    """

    height: int
    width: int
    across: int
    down: int
    planes: int
    bytes: int

    @classmethod
    def of(cls, page: Any) -> _Pieces:
        apart = int(page.planarconfig) == 2 and page.samplesperpixel > 1
        height = int(page.tilelength) if page.is_tiled else int(page.rowsperstrip)
        width = int(page.tilewidth) if page.is_tiled else int(page.imagewidth)
        height = height if page.is_tiled else min(height, int(page.imagelength))
        channels = 1 if apart else int(page.samplesperpixel)
        return cls(
            height=height,
            width=width,
            across=ceil(page.imagewidth / width),
            down=ceil(page.imagelength / height),
            planes=int(page.samplesperpixel) if apart else 1,
            bytes=height * width * channels * page.dtype.itemsize,
        )

    @property
    def count(self) -> int:
        return self.across * self.down * self.planes


def _refuse_lies(page: Any, pieces: _Pieces, path: Path) -> None:
    """Refuse a page whose pieces do not lie in the file, or cannot be as large as they say."""
    offsets = np.asarray(page.dataoffsets, dtype=np.uint64)
    counts = np.asarray(page.databytecounts, dtype=np.uint64)
    if offsets.size < pieces.count or counts.size < pieces.count:
        raise BadInput(
            f"states {pieces.count} strips or tiles but holds {min(offsets.size, counts.size)}; "
            "take an undamaged copy of the picture",
            path,
        )
    if not counts.all() or not offsets.all() or (offsets + counts).max() > path.stat().st_size:
        raise damaged(path, "it ends too early")
    if int(page.compression) == 1:
        if counts.sum() < page.nbytes:
            raise damaged(path, "it ends too early")
        return
    if pieces.bytes > _LARGEST_PIECE:
        raise BadInput(
            f"one strip or tile of the picture holds {pieces.bytes / 2**30:.1f} GB; save it in "
            "smaller ones, or uncompressed",
            path,
        )
    # The last strip may be smaller than it says.
    densest = _DENSEST.get(int(page.compression))
    whole = counts[: max(pieces.count - 1, 1)]
    if densest is not None and pieces.count > 1 and (whole * densest + 4096).min() < pieces.bytes:
        raise BadInput("its strips cannot hold as many pixels as it states", path)


def _stored_bands(page: Any, form: Form, file: BufferedReader) -> Iterator[Codes]:
    """Read rows of a page that is stored uncompressed, in one go."""
    stored = np.dtype(page.dtype).newbyteorder(page.parent.byteorder)
    if stored.isnative:
        # OpenColorIO does not take an array that names its order of bytes.
        stored = stored.newbyteorder("=")
    apart = int(page.planarconfig) == 2 and form.channels > 1
    planes, channels = (form.channels, 1) if apart else (1, form.channels)
    plane_bytes = form.height * form.width * channels * stored.itemsize
    for top in range(0, form.height, form.band_rows):
        rows = min(form.band_rows, form.height - top)
        parts = []
        for plane in range(planes):
            part = np.empty((rows, form.width, channels), dtype=stored)
            row_bytes = form.width * channels * stored.itemsize
            file.seek(page.dataoffsets[0] + plane * plane_bytes + top * row_bytes)
            if file.readinto(part.data.cast("B")) != part.nbytes:
                raise ValueError("it ends too early")
            parts.append(part)
        band = parts[0] if planes == 1 else np.concatenate(parts, axis=2)
        # Floats beyond those become infinite, and are refused.
        with np.errstate(over="ignore"):
            band = band.astype(form.kind, copy=False)
        yield band


def _decoded_bands(page: Any, pieces: _Pieces, form: Form, file: BufferedReader) -> Iterator[Codes]:
    """Decode strips or tiles, some rows of them at a time."""
    at_once = max(1, form.band_rows // pieces.height)
    with ThreadPoolExecutor(min(4, os.cpu_count() or 1)) as threads:
        for first in range(0, pieces.down, at_once):
            last = min(first + at_once, pieces.down)
            top = first * pieces.height
            band = np.empty(
                (min(last * pieces.height, form.height) - top, form.width, form.channels),
                dtype=form.kind,
            )
            encoded = (
                (_read_piece(page, index, file), index)
                for plane in range(pieces.planes)
                for row in range(first, last)
                for index in range(
                    (plane * pieces.down + row) * pieces.across,
                    (plane * pieces.down + row + 1) * pieces.across,
                )
            )
            for data, place, _ in threads.map(lambda piece: page.decode(*piece), encoded):
                plane, y, x = place[0], place[2] - top, place[3]
                part = band[y : y + pieces.height, x : x + pieces.width]
                part = part if pieces.planes == 1 else part[..., plane : plane + 1]
                # Tiles at the right and lower border reach over it.
                with np.errstate(over="ignore"):
                    part[:] = data[0, : part.shape[0], : part.shape[1]]
            yield band


def _read_piece(page: Any, index: int, file: BufferedReader) -> bytes:
    file.seek(page.dataoffsets[index])
    data = file.read(page.databytecounts[index])
    if len(data) != page.databytecounts[index]:
        raise ValueError("it ends too early")
    return data
