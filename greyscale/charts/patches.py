"""Patches to be printed, each with its reason; their repeats, and their order on the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.charts.page import Grid
from greyscale.colorimetry.arrays import Array, ArrayLike, Indices, equal_channels

DEFAULT_BITS = 8
FULL_SCALE = {8: 255, 16: 65535}
"""Highest code of device values that are whole steps of so many bits."""


@dataclass(frozen=True, eq=False)
class PatchList:
    """Patches to be printed.

    Attributes
    ----------
    device
        Shape (n, 3): R, G, B from 0 to 1.
    reasons
        Why each is there: a word or two, then after a colon what more there is to say.
    """

    device: Array
    reasons: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.reasons)

    @property
    def level(self) -> Array:
        """Level of each patch, shape (n,): the mean of its channels."""
        return np.asarray(self.device.mean(axis=1))

    @property
    def on_axis(self) -> tuple[int, ...]:
        """Indices of the patches with equal channels."""
        return tuple(int(i) for i in np.flatnonzero(np.ptp(self.device, axis=1) == 0))

    def select(self, rows: Sequence[int]) -> PatchList:
        """Return some of the patches, in the order asked."""
        index = np.asarray(rows, dtype=int)
        return PatchList(self.device[index], tuple(self.reasons[i] for i in index))

    def kinds(self) -> tuple[str, ...]:
        """Return the reasons without what follows the colon."""
        return tuple(reason.split(":")[0] for reason in self.reasons)


@dataclass(frozen=True, eq=False)
class Plan:
    """Patches to be printed and, in sentences, why they lie where they do."""

    patches: PatchList
    why: tuple[str, ...]


_ONE_RUN = 0.06


def levels_in_words(levels: ArrayLike) -> str:
    """Return levels by two decimals; those that lie close together as from where to where.

    Examples
    --------
    >>> levels_in_words([0.5, 0.25, 0.48, 0.52])
    '0.25, 0.48–0.52'
    """
    values = np.sort(np.asarray(levels, dtype=np.float64).reshape(-1))
    runs = np.split(values, np.flatnonzero(np.diff(values) > _ONE_RUN) + 1)
    return ", ".join(
        f"{run[0]:.2f}" if run.size == 1 else f"{run[0]:.2f}–{run[-1]:.2f}" for run in runs
    )


def greys(levels: ArrayLike, reasons: Sequence[str] | str) -> PatchList:
    """Return patches on the grey axis.

    Parameters
    ----------
    levels
        Shape (n,), 0 to 1.
    reasons
        One for each, or one for all.

    Examples
    --------
    >>> greys([0.0, 1.0], "tone").device.tolist()
    [[0.0, 0.0, 0.0], [1.0, 1.0, 1.0]]
    """
    values = np.asarray(levels, dtype=np.float64).reshape(-1)
    each = (reasons,) * values.size if isinstance(reasons, str) else tuple(reasons)
    return PatchList(equal_channels(values), each)


def joined(lists: Sequence[PatchList]) -> PatchList:
    """Put lists together; of patches with the same device values, the first stays."""
    device = np.concatenate([patches.device for patches in lists])
    reasons = [reason for patches in lists for reason in patches.reasons]
    _, first = np.unique(np.round(device, 9), axis=0, return_index=True)
    keep = np.sort(first)
    return PatchList(device[keep], tuple(reasons[i] for i in keep))


def whole_steps(values: ArrayLike, bits: int = DEFAULT_BITS) -> Array:
    """Round device values to whole codes of so many bits, and keep them from 0 to 1.

    A driver that works in 8 bits would round a chart's values unseen; half a code is about
    0.2 in L*, more than an instrument's noise.

    Examples
    --------
    >>> (whole_steps([0.5, 1.2]) * 255).tolist()
    [128.0, 255.0]
    """
    full = FULL_SCALE[bits]
    clipped = np.clip(np.asarray(values, dtype=np.float64), 0.0, 1.0)
    # Half a code goes up always: np.round would send neighbours of one ramp unlike ways.
    return np.asarray(np.floor(clipped * full + 0.5) / full)


# In which order patches go on the page: repeats, and the shuffle.

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
