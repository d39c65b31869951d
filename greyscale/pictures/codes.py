"""Codes of pictures as 16 bits, as floats, and whether they are grey."""

from __future__ import annotations

import numpy as np

from greyscale.pictures.picture import Codes

FULL_16 = 65535


def as_16_bits(codes: Codes) -> Codes:
    """Give 8 bits, or floats from 0 to 1, as 16 bits; what is outside is held at the ends."""
    if codes.dtype == np.uint16:
        return codes
    if codes.dtype == np.uint8:
        return codes.astype(np.uint16) * 257
    inside = np.clip(codes, 0.0, 1.0)
    return (inside * np.float32(FULL_16) + np.float32(0.5)).astype(np.uint16)


def as_floats(codes: Codes) -> Codes:
    """Give whole codes as float32 from 0 to 1; floats as they are."""
    if codes.dtype.kind == "f":
        return codes
    return codes.astype(np.float32) / np.float32(np.iinfo(codes.dtype).max)


def all_grey(colours: Codes) -> bool:
    """Say whether all pixels have equal channels; shape (..., 3).

    Examples
    --------
    >>> all_grey(np.array([[7, 7, 7], [9, 9, 9]])), all_grey(np.array([[7, 7, 8]]))
    (True, False)
    """
    first = colours[..., 0]
    return np.array_equal(first, colours[..., 1]) and np.array_equal(first, colours[..., 2])


def straight(colours: Codes, opaque: Codes) -> Codes:
    """Undo the multiplication of colours by how opaque they are; what cannot be seen is black.

    Parameters
    ----------
    colours
        Shape (..., n).
    opaque
        Shape (..., 1): float32 from 0 to 1.

    Returns
    -------
    float32 from 0 to 1, shape (..., n).
    """
    values = as_floats(colours)
    plain = np.divide(values, opaque, out=np.zeros_like(values), where=opaque > 0)
    return np.clip(plain, 0.0, 1.0)
