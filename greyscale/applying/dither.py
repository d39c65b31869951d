"""From fine values to 8 bits without bands: rounded up or down by chance, as near as they lie."""

from __future__ import annotations

from typing import Any

import numpy as np

from greyscale.pictures.codes import FULL_16


def dithered(codes: Any, random: np.random.Generator) -> Any:
    """Turn 16-bit codes into 8-bit ones.

    A value between two codes becomes one or the other, the nearer the likelier, so that the mean
    over an area is kept; a value that is a whole code stays it, bare paper too.

    Parameters
    ----------
    codes
        uint16, any shape.
    random
        Decides; the same seed gives the same codes.

    Returns
    -------
    uint8, of the same shape.

    Examples
    --------
    >>> dithered(np.array([0, 257, 65535], dtype=np.uint16), np.random.default_rng(1)).tolist()
    [0, 1, 255]
    """
    fine = codes.astype(np.uint32)
    fine *= 255
    fine += random.integers(0, FULL_16, size=codes.shape, dtype=np.uint16)
    fine //= FULL_16
    return fine.astype(np.uint8)
