"""Patches to be printed, each with its reason: first tones, near-neutral ones, repeats, order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import cycle

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.charts.page import Grid
from greyscale.colorimetry.arrays import Array, ArrayLike, Indices, equal_channels
from greyscale.colorimetry.cielab import lightness, luminance

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


# Which tones a starting chart holds: even in level, or even in expected L*.

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


def starting_tones(
    count: int, spacing: str = DEFAULT_SPACING, bits: int = DEFAULT_BITS
) -> PatchList:
    """Return the ramp of a starting chart, paper and black among it, by rising level.

    Parameters
    ----------
    spacing
        A name of `SPACINGS`.
    bits
        The levels are whole codes of so many bits.

    Raises
    ------
    BadInput
        For a spacing that is not known, or a number of tones that cannot be.

    Examples
    --------
    >>> (starting_tones(5).device[:, 0] * 255).tolist()
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
        levels = whole_steps(np.linspace(0.0, 1.0, count), bits)
    else:
        levels = distinct(even_in_lightness(count, _GRID, expected_lightness(_GRID)), bits)
    return greys(levels, "tone")


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


# Near-neutral patches: how the printer answers when one channel moves, or two together.
#
# Chromaticness has two dimensions. Moving one channel up or down goes six ways in the plane of
# a*, b*, 60° apart: a hexagon round the neutral axis. A hexagon with its centre (the ramp) is the
# smallest design from which slopes and curvatures in two dimensions come out equally sharp in all
# directions (equiradial, second-order rotatable: Box and Hunter, 1957, Multi-factor experimental
# designs for exploring response surfaces, Annals of Mathematical Statistics 28). The third
# dimension, lightness, is the ramp itself.
#
# So there is a hexagon at each of some tones: at every other tone single channels, in between
# pairs of channels moved against each other, which turns the hexagon by 30°; neighbouring tones
# then look twelve ways. Two tones have far hexagons, the next two near ones, and so on. Where a
# channel has no room (near paper nothing can be added to 1, near black nothing taken from 0), all
# three are moved along the axis until there is: near paper, instead of more red, less green and
# less blue.

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
    centres, full = whole_steps(levels, bits).reshape(-1), FULL_SCALE[bits]
    sizes = np.broadcast_to(np.clip(np.asarray(nudges, dtype=float), *NUDGE_RANGE), centres.shape)
    device = np.concatenate(
        [
            # Six ways, counted from the darkest tone, in whole codes, up and down alike.
            with_room(centre + np.round(size * (reach * ways) * full) / full)
            for centre, size, reach, ways in zip(
                centres, sizes, cycle(REACHES), cycle((_SINGLE, _OPPONENT)), strict=False
            )
        ]
    )
    device = whole_steps(device, bits)
    around = np.repeat(centres, WAYS)
    reasons = [
        moved_channels(row, centre, bits) for row, centre in zip(device, around, strict=True)
    ]
    _, first = np.unique(device, axis=0, return_index=True)
    keep = [i for i in np.sort(first) if np.ptp(device[i]) > 0]
    return PatchList(device[keep], tuple(reasons[i] for i in keep))


def with_room(device: Array) -> Array:
    """Move patches, shape (n, 3), along the grey axis until every channel is from 0 to 1."""
    over = np.maximum(device.max(axis=1, keepdims=True) - 1.0, 0.0)
    under = np.minimum(device.min(axis=1, keepdims=True), 0.0)
    return np.asarray(np.clip(device - over - under, 0.0, 1.0))


def moved_channels(device: Array, centre: float, bits: int) -> str:
    """The reason of a near-neutral patch: which channels lie off its grey, by how many codes."""
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
