"""Patches to be printed, each with its reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike

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
    return PatchList(np.repeat(values[:, np.newaxis], 3, axis=1), each)


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
