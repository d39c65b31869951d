"""Near-neutral patches: how the printer answers when one channel moves, or two together.

Chromaticness has two dimensions. Moving one channel up or down goes six ways in the plane of
a*, b*, 60° apart: a hexagon round the neutral axis. A hexagon with its centre (the ramp) is the
smallest design from which slopes and curvatures in two dimensions come out equally sharp in all
directions (equiradial, second-order rotatable: Box and Hunter, 1957, Multi-factor experimental
designs for exploring response surfaces, Annals of Mathematical Statistics 28). The third
dimension, lightness, is the ramp itself.

So there is a hexagon at each of some tones: at every other tone single channels, in between pairs
of channels moved against each other, which turns the hexagon by 30°; neighbouring tones then look
twelve ways. Two tones have far hexagons, the next two near ones, and so on. Where a channel has no
room (near paper nothing can be added to 1, near black nothing taken from 0), all three are moved
along the axis until there is: near paper, instead of more red, less green and less blue.
"""

from __future__ import annotations

import numpy as np

from greyscale.charts.patches import DEFAULT_BITS, FULL_SCALE, PatchList, whole_steps
from greyscale.colorimetry.arrays import Array, ArrayLike

DEFAULT_NUDGE = 0.12
"""How far one channel is moved, in the middle between the near hexagons and the far ones."""

REACHES = (4 / 3, 4 / 3, 2 / 3, 2 / 3)
"""Hexagons reach far and near by turns, by these shares of the nudge, from the darkest on.

The near ones (0.08) tell the slope at the axis; their ΔCh of 5 to 10 is thirty times an
instrument's noise or more. The far ones (0.16) tell how the answer bends, and reach round the
device values that print neutral on a printer whose black ink sets in by a kink or whose greys
depart by ΔCh 10. Tried with a thin-plate fit on eleven printers (of the TR 006 kind, halftone
with and without black, six inks), one round of correction left a mean ΔCh of 0.13 with reaches of
0.16 and 0.08, 0.17 with 0.13 and 0.07, 0.30 with 0.10 throughout, 0.41 with 0.08 throughout."""

NUDGE_RANGE = (0.05, 0.18)
MOST_PATCHES = 150
"""A chart with the usual 33 tones, near-neutral patches and repeats has no more patches."""

WAYS = 6
_FEWEST_TONES, _MOST_TONES = 8, 20
# The first star sits where nudges still show above the black. The last is paper itself: what the
# first ink does to it, channel by channel, is where every correction begins.
_LOWEST_LEVEL, _HIGHEST_LEVEL = 0.02, 1.0
# Towards paper nudges grow smaller, to stay where the correction will need them: with wide ones
# alone the highlights of a six-ink printer were left with a ΔCh of 0.9 instead of 0.3.
_LEAST_SHARE, _SHARE_PER_LEVEL = 0.4, 2.5
_SHADOW_EXPONENT = 1.15  # Tones lie denser in the shadows, where ink response changes most.

_SINGLE = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [-1, 0, 0], [0, -1, 0], [0, 0, -1]])
# Two channels against each other move a*, b* sqrt(3) times as far as one alone.
_OPPONENT = np.array(
    [[1, -1, 0], [0, 1, -1], [-1, 0, 1], [-1, 1, 0], [0, -1, 1], [1, 0, -1]]
) / np.sqrt(3)


def tones_within(budget: int) -> int:
    """Say at how many tones near-neutral patches go, for a number of patches left to print.

    Examples
    --------
    >>> tones_within(150 - 33 - 12)
    17
    """
    return int(np.clip(budget // WAYS, _FEWEST_TONES, _MOST_TONES))


def near_neutral_levels(count: int, between: bool = False) -> Array:
    """Return the levels that near-neutral patches are grouped round, denser in the shadows.

    Parameters
    ----------
    count
        How many levels.
    between
        Half a step aside: for a chart that follows one with as many.

    Returns
    -------
    Array of shape (count,), rising.
    """
    position = (np.arange(count) + (0.5 if between else 0.0)) / max(count - 1, 1)
    share = np.minimum(position, 1.0) ** _SHADOW_EXPONENT
    return np.asarray(_LOWEST_LEVEL + (_HIGHEST_LEVEL - _LOWEST_LEVEL) * share)


def usual_nudges(levels: ArrayLike) -> Array:
    """Return how far one channel is moved round each level, where nothing is known of the printer.

    Examples
    --------
    >>> usual_nudges([0.5, 1.0]).round(3).tolist()
    [0.12, 0.048]
    """
    room = 1.0 - np.asarray(levels, dtype=np.float64)
    return np.asarray(DEFAULT_NUDGE * np.minimum(_LEAST_SHARE + _SHARE_PER_LEVEL * room, 1.0))


def near_neutral_patches(
    levels: ArrayLike, nudges: ArrayLike = DEFAULT_NUDGE, bits: int = DEFAULT_BITS
) -> PatchList:
    """Return six near-neutral patches round each level.

    Parameters
    ----------
    levels
        Shape (n,), 0 to 1.
    nudges
        How far one channel is moved, one or (n,), times `REACHES`; held within `NUDGE_RANGE`.
    bits
        Device values are whole codes of so many bits.

    Returns
    -------
    Up to 6 n patches, fewer where some coincide.

    Examples
    --------
    >>> near_neutral_patches([0.5]).reasons[:2]
    ('near-neutral: R +41', 'near-neutral: G +41')
    """
    centres = whole_steps(levels, bits).reshape(-1)
    sizes = np.broadcast_to(np.clip(np.asarray(nudges, dtype=float), *NUDGE_RANGE), centres.shape)
    device = np.concatenate(
        [
            _with_room(centre + _whole(size * _hexagon(index), bits))
            for index, (centre, size) in enumerate(zip(centres, sizes, strict=True))
        ]
    )
    device = whole_steps(device, bits)
    around = np.repeat(centres, WAYS)
    reasons = [_reason(row, centre, bits) for row, centre in zip(device, around, strict=True)]
    _, first = np.unique(device, axis=0, return_index=True)
    keep = [i for i in np.sort(first) if np.ptp(device[i]) > 0]
    return PatchList(device[keep], tuple(reasons[i] for i in keep))


def _hexagon(index: int) -> Array:
    """Return the six ways of one tone, counted from the darkest, for a nudge of 1."""
    ways = _OPPONENT if index % 2 else _SINGLE
    return np.asarray(REACHES[index % len(REACHES)] * ways)


def _whole(nudge: Array, bits: int) -> Array:
    """Round nudges to whole codes, up and down alike."""
    return np.asarray(np.round(nudge * FULL_SCALE[bits]) / FULL_SCALE[bits])


def _with_room(device: Array) -> Array:
    """Move patches along the grey axis until every channel is from 0 to 1."""
    over = np.maximum(device.max(axis=1, keepdims=True) - 1.0, 0.0)
    under = np.minimum(device.min(axis=1, keepdims=True), 0.0)
    return np.asarray(np.clip(device - over - under, 0.0, 1.0))


def _reason(device: Array, centre: float, bits: int) -> str:
    """Say which channels were moved and by how many codes."""
    codes = np.round((device - centre) * FULL_SCALE[bits]).astype(int)
    moved = [f"{name} {code:+d}" for name, code in zip("RGB", codes, strict=True) if code]
    return "near-neutral: " + ", ".join(moved).replace("-", "−")


WANTED_CH = 10.0
"""The ΔCh that a nudge should make."""


def nudges_for_response(levels: Array, measured_levels: Array, response: Array) -> Array:
    """Size nudges by how the printer answered before.

    Parameters
    ----------
    levels
        Shape (n,): where near-neutral patches will go.
    measured_levels, response
        Shape (m,), levels rising: ΔCh per unit of a single channel's nudge.

    Returns
    -------
    Array of shape (n,), within `NUDGE_RANGE`.

    Examples
    --------
    >>> nudges_for_response(np.array([0.5]), np.array([0.0, 1.0]), np.array([80.0, 80.0])).tolist()
    [0.125]
    """
    answer = np.interp(levels, measured_levels, np.maximum(response, 1e-6))
    return np.clip(WANTED_CH / answer, *NUDGE_RANGE)
