"""What luminance a picture's values stand for: named encodings, and the one a correction expects.

The tone aim of a correction says what L* a level should print as, and is at the same time how the
picture must be encoded: a level that should print half way between the print's black and paper
stands, in the picture, for a tone half way between black and white.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from greyscale.aims.tone import TONE_AIMS
from greyscale.base.errors import BadInput
from greyscale.base.nearest import did_you_mean
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import lightness, luminance
from greyscale.correction.record import Correction

NAMED = tuple(name for name, curve in TONE_AIMS.items() if curve is not None)
"""Encodings by name; beside them any gamma, as gamma-2.4."""

_GAMMA = re.compile(r"gamma-(\d+(?:\.\d+)?)")
_STEEPEST = 4.0
_POINTS = 65536 + 1


@dataclass(frozen=True, eq=False)
class Encoding:
    """How a picture's values encode luminance.

    Attributes
    ----------
    name
        What it is called.
    luminance
        Gives Y, 0 to 1, of values from 0 to 1, rising.
    """

    name: str
    luminance: Callable[[Array], Array]

    def values(self, Y: ArrayLike) -> Array:
        """Give the value, 0 to 1, that encodes each Y.

        Examples
        --------
        >>> named_encoding("lstar").values([0.0, 0.184187, 1.0]).round(4).tolist()
        [0.0, 0.5, 1.0]
        """
        # In L*, both ways are close to straight lines.
        levels = np.linspace(0.0, 1.0, _POINTS)
        known = np.maximum.accumulate(lightness(self.luminance(levels), 1.0))
        return np.interp(lightness(np.clip(Y, 0.0, 1.0), 1.0), known, levels)


def named_encoding(name: str) -> Encoding:
    """Give an encoding by its name.

    Raises
    ------
    BadInput
        If there is none of that name.
    """
    curve = TONE_AIMS.get(name)
    if curve is not None:
        return Encoding(name, lambda levels: luminance(curve(levels), 1.0))
    gamma = _GAMMA.fullmatch(name)
    if gamma is not None and 1.0 <= float(gamma[1]) <= _STEEPEST:
        exponent = float(gamma[1])
        return Encoding(name, lambda levels: np.maximum(levels, 0.0) ** exponent)
    raise BadInput(
        f"the encoding '{name}' is not known; {did_you_mean(name, NAMED, files=True)}"
        f"take one of {', '.join(NAMED)}, another gamma "
        "as gamma-2.4, or the file of an ICC profile",
        "--encoding",
    )


def encoding_of(correction: Correction) -> Encoding:
    """Give the encoding that a correction expects of a picture.

    Of an aim by name it is the aim itself. A table, or density, is taken as the correction keeps
    it, fitted to the print, and the fitting undone: black and paper of the print stand for black
    and white of the picture.
    """
    if TONE_AIMS.get(correction.aim) is not None:
        return named_encoding(correction.aim)
    levels, L = correction.curve.levels, correction.aim_lab[:, 0]

    def unfitted(values: Array) -> Array:
        aim_L = np.interp(values, levels, L)
        if correction.scaling == "black-point":
            Y, black, paper = luminance(aim_L), luminance(L[0]), luminance(L[-1])
            return np.asarray(np.clip((Y - black) / (paper - black), 0.0, 1.0))
        return luminance(np.clip((aim_L - L[0]) / (L[-1] - L[0]), 0.0, 1.0) * 100.0, 1.0)

    return Encoding(correction.aim, unfitted)
