"""What a*, b* a tone should have to look neutral on its paper: the neutral aims."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from greyscale.base.errors import BadInput, did_you_mean
from greyscale.colorimetry.arrays import Array, ArrayLike, columns_at
from greyscale.colorimetry.cielab import luminance

# How much of the paper's tint is gone at black. ISO 12647-2:2013, 4.2.8 and annex A (memory).
FADED_AT_BLACK = 0.85

Weight = Callable[[Array, Array, Array], Array]
"""Share of the paper's a*, b* that a tone keeps, by L*, L* of paper, L* of black."""


def _none(L: Array, L_paper: Array, L_black: Array) -> Array:
    return np.zeros_like(L)


def _whole(L: Array, L_paper: Array, L_black: Array) -> Array:
    return np.ones_like(L)


def _fading(L: Array, L_paper: Array, L_black: Array) -> Array:
    # ISO 12647-2:2013, grey reproduction (memory). Its black is the darkest overprint of cyan,
    # magenta and yellow; here it is the darkest patch.
    return 1.0 - FADED_AT_BLACK * (L_paper - L) / (L_paper - L_black)


def _adapting(L: Array, L_paper: Array, L_black: Array) -> Array:
    # The same, in luminance: High, Nussbaum and Green (2023), Grey balance in cross media
    # reproductions, J. Imaging Sci. Technol. 67(5), found the adjustment towards the background
    # near-linear in the luminance of the patch.
    Y, Y_paper, Y_black = luminance(L), luminance(L_paper), luminance(L_black)
    return 1.0 - FADED_AT_BLACK * (Y_paper - Y) / (Y_paper - Y_black)


DEFAULT_NEUTRAL_AIM = "fading"

NEUTRAL_AIMS: dict[str, Weight] = {
    "fading": _fading,
    "adapting": _adapting,
    "paper": _whole,
    "absolute": _none,
}
"""The aims by name: how much of the paper's tint each keeps."""


@dataclass(frozen=True, eq=False)
class AimByLightness:
    """An aim of its own: a*, b* by L*, as of a print that is toned on purpose.

    Attributes
    ----------
    name
        What to call it.
    L
        Shape (n,): L*, rising.
    ab
        Shape (n, 2): a*, b* there; straight between, held beyond the ends.
    """

    name: str
    L: Array
    ab: Array

    def at(self, L: ArrayLike) -> Array:
        """Return a*, b* of L* of any shape, shape (..., 2)."""
        return columns_at(L, self.L, self.ab)


NeutralAim = str | AimByLightness
"""A neutral aim: a name of `NEUTRAL_AIMS`, or an aim of its own."""


def neutral_aim_name(name: NeutralAim) -> str:
    """Return the name of a neutral aim if there is such an aim.

    Raises
    ------
    BadInput
        Naming the aims there are.
    """
    if isinstance(name, AimByLightness):
        return name.name
    if name not in NEUTRAL_AIMS:
        raise BadInput(
            f"the neutral aim '{name}' is not known; {did_you_mean(name, NEUTRAL_AIMS)}"
            f"take one of {', '.join(NEUTRAL_AIMS)}"
        )
    return name


def neutral_aim(
    name: NeutralAim, L: ArrayLike, paper_lab: ArrayLike, black_lab: ArrayLike
) -> Array:
    """Return the a*, b* at which tones count as neutral.

    Parameters
    ----------
    name
        "fading" (the default of every command; ISO 12647-2:2013), "adapting" (High, Nussbaum
        and Green 2023), "paper" (the paper's a*, b* at every tone), "absolute" (zero); or an aim
        of its own, which knows neither paper nor black.
    L
        L* of the tones, any shape.
    paper_lab, black_lab
        L*, a*, b* of the paper white and of the darkest patch, under the light of interest: shape
        (3,), or any that broadcasts to (..., 3).

    Returns
    -------
    Array of shape (..., 2): a*, b*.

    Raises
    ------
    BadInput
        For a name that is not known, or where paper and black have the same L*.

    Examples
    --------
    >>> paper, black = [95.0, 1.0, -4.0], [15.0, 0.3, 0.2]
    >>> neutral_aim("fading", [95.0, 55.0, 15.0], paper, black).round(3).tolist()
    [[1.0, -4.0], [0.575, -2.3], [0.15, -0.6]]
    """
    if isinstance(name, AimByLightness):
        return name.at(L)
    weight = NEUTRAL_AIMS[neutral_aim_name(name)]
    paper = np.asarray(paper_lab, dtype=np.float64)
    L_paper, L_black = paper[..., 0], np.asarray(black_lab, dtype=np.float64)[..., 0]
    if np.any(L_paper == L_black):
        same = float(np.atleast_1d(L_paper)[0])
        raise BadInput(f"paper and black both have L* {same:.2f}; there is no ramp between them")
    tones = np.asarray(L, dtype=np.float64)
    return weight(tones, L_paper, L_black)[..., np.newaxis] * paper[..., 1:]
