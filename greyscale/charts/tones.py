"""Which tones a starting chart holds: even in level, or even in expected L*."""

from __future__ import annotations

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.charts.patches import DEFAULT_BITS, FULL_SCALE, PatchList, greys, whole_steps
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import lightness, luminance

SPACINGS = {
    "level": "even in level",
    "lightness": "even in expected L*",
}
"""How the tones of a starting chart are spaced, and how the caption says it."""

DEFAULT_SPACING = "level"
LEAST_TONES = 3

_GRID = np.linspace(0.0, 1.0, 2041)

# What to expect of a printer nobody measured: it takes its values as a display's of gamma 2.2
# and keeps them between its own black and paper, linear in luminance. L* of black and paper are
# those of pigment inks on matt paper, about. Common practice, no source.
_EXPECTED_GAMMA = 2.2
_EXPECTED_BLACK_L = 16.0
_EXPECTED_PAPER_L = 96.0


def expected_lightness(levels: ArrayLike) -> Array:
    """Return the L* to expect of a printer that nobody measured yet.

    Examples
    --------
    >>> expected_lightness([0.0, 0.5, 1.0]).round(1).tolist()
    [16.0, 53.2, 96.0]
    """
    share = np.asarray(levels, dtype=np.float64) ** _EXPECTED_GAMMA
    Y_black, Y_paper = luminance([_EXPECTED_BLACK_L, _EXPECTED_PAPER_L])
    return lightness(Y_black + (Y_paper - Y_black) * share)


def spread(count: int, density: ArrayLike, at: ArrayLike = _GRID) -> Array:
    """Return levels from 0 to 1 that lie as dense as asked.

    Parameters
    ----------
    count
        How many levels; the first is 0, the last is 1.
    density
        Shape (m,), patches per unit of level, on any scale; above 0 somewhere in each gap.
    at
        Shape (m,), the levels at which `density` is given, rising from 0 to 1.

    Returns
    -------
    Array of shape (count,), rising.

    Examples
    --------
    >>> spread(5, [1.0, 1.0], [0.0, 1.0]).tolist()
    [0.0, 0.25, 0.5, 0.75, 1.0]
    """
    x = np.asarray(at, dtype=np.float64)
    y = np.asarray(density, dtype=np.float64)
    total = np.concatenate([[0.0], np.cumsum((y[1:] + y[:-1]) / 2 * np.diff(x))])
    return np.interp(np.linspace(0.0, total[-1], count), total, x)


def even_in_lightness(count: int, levels: ArrayLike, L: ArrayLike) -> Array:
    """Return levels that print evenly spaced in L*.

    Parameters
    ----------
    count
        How many; the first is 0, the last is 1.
    levels, L
        Shape (m,): the curve to expect, levels rising from 0 to 1. Where L* falls as the level
        rises, the curve is held flat.

    Examples
    --------
    >>> even_in_lightness(3, [0.0, 0.8, 1.0], [20.0, 60.0, 100.0]).tolist()
    [0.0, 0.8, 1.0]
    """
    rising = np.maximum.accumulate(np.asarray(L, dtype=np.float64))
    # A touch of slope keeps flat stretches invertible.
    rising = rising + 1e-6 * np.arange(rising.size)
    wanted = np.linspace(rising[0], rising[-1], count)
    return np.interp(wanted, rising, np.asarray(levels, dtype=np.float64))


def starting_levels(count: int, spacing: str = DEFAULT_SPACING, bits: int = DEFAULT_BITS) -> Array:
    """Return the levels of a starting chart, paper and black among them.

    Parameters
    ----------
    count
        How many tones.
    spacing
        A name of `SPACINGS`.
    bits
        The levels are whole codes of so many bits.

    Returns
    -------
    Array of shape (count,), rising from 0 to 1.

    Raises
    ------
    BadInput
        For a spacing that is not known, or a number of tones that cannot be.

    Examples
    --------
    >>> (starting_levels(5) * 255).tolist()
    [0.0, 64.0, 128.0, 191.0, 255.0]
    """
    if spacing not in SPACINGS:
        known = ", ".join(SPACINGS)
        raise BadInput(f"the spacing '{spacing}' is not known; take one of {known}")
    most = 256 if bits == 8 else 1024
    if not LEAST_TONES <= count <= most:
        raise BadInput(
            f"{count} tones are not possible; a chart has {LEAST_TONES} to {most} (at {bits} bits)"
        )
    if spacing == "level":
        return whole_steps(np.linspace(0.0, 1.0, count), bits)
    return distinct(even_in_lightness(count, _GRID, expected_lightness(_GRID)), bits)


def distinct(levels: Array, bits: int = DEFAULT_BITS) -> Array:
    """Round rising levels to whole codes; two that fall on one code are moved apart."""
    full = FULL_SCALE[bits]
    codes = np.round(whole_steps(levels, bits) * full).astype(int)
    last = codes.size - 1
    for i in range(1, codes.size):
        codes[i] = max(codes[i], codes[i - 1] + 1)
    codes[-1] = min(codes[-1], full)
    for i in range(last - 1, -1, -1):
        codes[i] = min(codes[i], codes[i + 1] - 1)
    return np.asarray(codes / full)


def starting_tones(
    count: int, spacing: str = DEFAULT_SPACING, bits: int = DEFAULT_BITS
) -> PatchList:
    """Return the ramp of a starting chart; arguments and errors as `starting_levels`."""
    return greys(starting_levels(count, spacing, bits), "tone")
