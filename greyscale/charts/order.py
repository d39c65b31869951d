"""In which order patches go on the page: repeats, and the shuffle."""

from __future__ import annotations

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.charts.page import Grid
from greyscale.charts.patches import PatchList
from greyscale.colorimetry.arrays import Array, Indices

_TRIALS = 400
"""Random orders that are tried; the one that hides page drift best is taken."""

LEAST_STEP = 0.06
"""Neighbours in a strip should differ by this much in some channel, for an instrument to see."""


def usual_repeats(count: int) -> int:
    """Say how many repeats a chart of so many patches has, unless asked otherwise.

    Examples
    --------
    >>> usual_repeats(33), usual_repeats(135)
    (6, 12)
    """
    return 4 + count // 16


def with_repeats(patches: PatchList, repeats: int) -> PatchList:
    """Add patches that are printed again elsewhere, at the end of the list.

    Paper and black come first, twice each: they tell whether the page is even. From six repeats on
    they come again, paper more often: every aim starts from it, so that its noise is the noise of
    all tones at once. The rest is tones spread over the ramp, which tell how well the instrument
    repeats.

    Parameters
    ----------
    patches
        Paper and black are among them.
    repeats
        How many patches to add.

    Raises
    ------
    BadInput
        For a number below 0 or beyond four for each tone.
    """
    axis = sorted(patches.on_axis, key=lambda i: patches.level[i])
    if not 0 <= repeats <= 4 * len(axis):
        raise BadInput(f"{repeats} repeats are not possible; take 0 to {4 * len(axis)}")
    paper, black = axis[-1], axis[0]
    more = [paper, paper, black, paper][: max((repeats - 4) // 2, 0)]
    again = [paper, black, paper, black, *more][:repeats]
    inner = axis[1:-1] or axis
    rest = repeats - len(again)
    while rest:
        several = min(rest, len(inner))
        middle = (np.arange(several) + 0.5) / several * len(inner)
        again += [inner[int(position)] for position in middle]
        rest -= several
    all_of_them = patches.select([*range(len(patches)), *again])
    reasons = list(all_of_them.reasons)
    for i in range(len(patches), len(all_of_them)):
        reasons[i] = f"repeat: {reasons[i]}"
    return PatchList(all_of_them.device, tuple(reasons))


def falling_order(patches: PatchList) -> Indices:
    """Return the order from paper to black; repeats follow at the end, as they come."""
    again = np.array([kind == "repeat" for kind in patches.kinds()])
    return np.lexsort((np.where(again, np.arange(len(patches)), -patches.level), again))


def shuffled_order(patches: PatchList, grid: Grid, seed: int, first: int = 0) -> Indices:
    """Return a random order in which a change over the page does not look like one over tones.

    Of many random orders that one is taken in which level goes least with the place across,
    down, and page by page, repeats lie far apart, neighbours differ, and every page has paper
    and black.

    Parameters
    ----------
    patches
        Shape (n, 3) of device values.
    grid
        Where they go.
    seed
        Same seed, same order.
    first
        How many places are taken already, before these.

    Returns
    -------
    Indices of the patches in order of their places.
    """
    random = np.random.default_rng(seed)
    count = len(patches)
    trials = random.permuted(np.tile(np.arange(count), (_TRIALS, 1)), axis=1)
    places = _places(grid)[first:]
    penalty = (
        3.0 * _likeness(patches.level, places, trials)
        + 2.0 * _alike_neighbours(patches.device, grid, trials, first)
        + _closeness_of_repeats(patches.device, places, trials)
        + 2.0 * _pages_without_ends(patches.level, places, trials)
    )
    return np.asarray(trials[int(np.argmin(penalty))])


def _places(grid: Grid) -> Array:
    """Return across, down (0 to 1) and page of every place, shape (n, 3)."""
    strip, number = np.divmod(np.arange(grid.count), grid.per_strip)
    page, row = np.divmod(strip, grid.strips_per_page)
    rows = min(grid.strips, grid.strips_per_page)
    across = number / max(grid.per_strip - 1, 1)
    return np.column_stack([across, row / max(rows - 1, 1), page]).astype(np.float64)


def _likeness(level: Array, places: Array, trials: Indices) -> Array:
    """Return how far level goes with place: root of the sum of squared correlations."""
    columns = [places[:, 0], places[:, 1], places[:, 2], np.arange(len(places))]
    varying = [column - column.mean() for column in columns if np.ptp(column) > 0]
    if not varying or np.ptp(level) == 0:
        return np.zeros(len(trials))
    plan = np.stack([column / np.linalg.norm(column) for column in varying], axis=1)
    centred = level - level.mean()
    return np.asarray(np.linalg.norm(centred[trials] @ plan, axis=1) / np.linalg.norm(centred))


def _alike_neighbours(device: Array, grid: Grid, trials: Indices, first: int) -> Array:
    """Return the share of neighbours in a strip that an instrument could take for one patch."""
    same_strip = np.arange(first + 1, grid.count) % grid.per_strip != 0
    if not same_strip.any():
        return np.zeros(len(trials))
    step = np.abs(device[trials[:, 1:]] - device[trials[:, :-1]]).max(axis=2)
    return np.asarray((step[:, same_strip] < LEAST_STEP).mean(axis=1))


def _closeness_of_repeats(device: Array, places: Array, trials: Indices) -> Array:
    """Return how near patches of the same values lie: 1 for touching, 0 for a page apart."""
    _, group = np.unique(device, axis=0, return_inverse=True)
    group = group.reshape(-1)
    first, second = np.triu_indices(len(device), 1)
    pairs = group[first] == group[second]
    if not pairs.any():
        return np.zeros(len(trials))
    where = np.argsort(trials, axis=1)  # The place of each patch, trial by trial.
    apart = places[where[:, first[pairs]]] - places[where[:, second[pairs]]]
    distance = np.minimum(np.linalg.norm(apart, axis=2), 1.0)
    return np.asarray((1.0 - distance).mean(axis=1) + 0.3 * (distance < 0.2).sum(axis=1))


def _pages_without_ends(level: Array, places: Array, trials: Indices) -> Array:
    """Return the share of pages that lack paper or black."""
    pages = int(places[:, 2].max()) + 1
    lacking = np.zeros(len(trials))
    for page in range(pages):
        here = level[trials[:, places[:, 2] == page]]
        lacking += (here.min(axis=1) > 0) | (here.max(axis=1) < 1)
    return lacking / pages
