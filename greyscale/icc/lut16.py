"""The lut16 tag: curves, a grid, curves, all of 16 bits (ISO 15076-1, 10.10)."""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike

MOST_ENTRIES = 4096
"""Entries of a curve, at most."""


@dataclass(frozen=True, eq=False)
class Lut16:
    """A lut16 tag; all values from 0 to 1.

    Attributes
    ----------
    input_curves
        Shape (inputs, entries).
    grid
        Shape (n, ..., n, outputs), an axis for each input; the first input varies slowest.
    output_curves
        Shape (outputs, entries).
    """

    input_curves: Array
    grid: Array
    output_curves: Array


def straight(channels: int) -> Array:
    """Give curves that change nothing, shape (channels, 2)."""
    return np.tile([0.0, 1.0], (channels, 1))


def lut16_tag(lut: Lut16) -> bytes:
    """Make the tag.

    Raises
    ------
    ValueError
        If the shapes do not fit together, or a curve has too many entries.
    """
    inputs, outputs = lut.grid.ndim - 1, lut.grid.shape[-1]
    points = lut.grid.shape[0]
    if len(lut.input_curves) != inputs or len(lut.output_curves) != outputs:
        raise ValueError("a lut16 needs a curve for each channel")
    if set(lut.grid.shape[:-1]) != {points} or not 2 <= points <= 255:
        raise ValueError("the grid of a lut16 has the same 2 to 255 points along each input")
    entries = lut.input_curves.shape[1], lut.output_curves.shape[1]
    if not all(2 <= number <= MOST_ENTRIES for number in entries):
        raise ValueError(f"a lut16's curves have 2 to {MOST_ENTRIES} entries")
    identity = [65536, 0, 0, 0, 65536, 0, 0, 0, 65536]
    return (
        b"mft2\0\0\0\0"
        + struct.pack(">4B9i2H", inputs, outputs, points, 0, *identity, *entries)
        + words(lut.input_curves)
        + words(lut.grid)
        + words(lut.output_curves)
    )


def words(values: ArrayLike) -> bytes:
    """Give values from 0 to 1 as big-endian 16-bit words."""
    scaled = np.round(np.clip(np.asarray(values, dtype=np.float64), 0.0, 1.0) * 65535)
    return scaled.astype(">u2").tobytes()


def encode_lab(lab: ArrayLike) -> Array:
    """Encode CIELAB for a lut16, whose encoding is that of ICC.1:2001-04 in v4 profiles too.

    L* 100 is 0xFF00, a* and b* 0 are 0x8000 (ISO 15076-1, 6.3.4.2, table 12).

    Examples
    --------
    >>> (encode_lab([100.0, 0.0, 0.0]) * 65535).round(6).tolist()
    [65280.0, 32768.0, 32768.0]
    """
    values = np.asarray(lab, dtype=np.float64)
    scaled = np.stack(
        [values[..., 0] * 652.80, (values[..., 1] + 128) * 256, (values[..., 2] + 128) * 256], -1
    )
    return np.clip(scaled / 65535, 0.0, 1.0)


def decode_lab(encoded: ArrayLike) -> Array:
    """Decode a lut16's CIELAB: the inverse of `encode_lab`."""
    values = np.asarray(encoded, dtype=np.float64) * 65535
    return np.stack(
        [values[..., 0] / 652.80, values[..., 1] / 256 - 128, values[..., 2] / 256 - 128], -1
    )
