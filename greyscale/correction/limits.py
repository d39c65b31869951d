"""Where an aim is out of the printer's reach, and what is done about it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, Mask
from greyscale.colorimetry.differences import delta_Ch

_CH, _L = 0.15, 0.35
"""What is solved further off than this is out of reach."""

_NEAR_END = 0.03  # A run that comes so near to level 0 or 1 belongs to black, or to paper.


@dataclass(frozen=True)
class Limit:
    """A run of tones where the aim as asked is out of reach, or was brought in.

    Attributes
    ----------
    kind
        "black" (blended between the printer's black and the first reachable tone), "paper" (the
        same towards bare paper), or "range" (elsewhere: a channel at its end).
    from_level, to_level
        The run, `from_level` < `to_level`.
    max_delta_Ch, max_delta_L
        The largest distance of what was solved for from what was asked.
    message
        The same as one plain sentence.
    """

    kind: str
    from_level: float
    to_level: float
    max_delta_Ch: float
    max_delta_L: float
    message: str


def find_limits(levels: Array, solved: Array, aimed: Array) -> tuple[Limit, ...]:
    """Find the runs of tones where what was solved for is not what was asked.

    Parameters
    ----------
    levels
        Shape (n,), rising.
    solved, aimed
        Shape (n, 3): CIELAB.
    """
    off_Ch, off_L = delta_Ch(solved, aimed), np.abs(solved[:, 0] - aimed[:, 0])
    runs = _runs((off_Ch > _CH) | (off_L > _L))
    return tuple(_limit(levels, off_Ch, off_L, first, last) for first, last in runs)


def _runs(out: Mask) -> list[tuple[int, int]]:
    """Give first and last index of each run, one index added on so that no run is a point."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], out, [False]]).astype(int)))
    ends = out.size - 1
    return [
        (int(first) if last > first or last < ends else int(first) - 1, int(min(last + 1, ends)))
        for first, last in zip(edges[::2], edges[1::2] - 1, strict=True)
    ]


def _limit(levels: Array, off_Ch: Array, off_L: Array, first: int, last: int) -> Limit:
    start, end = float(levels[first]), float(levels[last])
    worst_Ch, worst_L = float(off_Ch[first : last + 1].max()), float(off_L[first : last + 1].max())
    off = f"by up to ΔCh {worst_Ch:.1f}" + (f" and {worst_L:.1f} in L*" if worst_L > _L else "")
    if start <= _NEAR_END:
        kind = "black"
        message = (
            f"Black is kept as the printer's darkest, with the tint of its ink; from there to "
            f"level {end:.3f} the aim is blended, which departs from it {off}."
        )
    elif end >= 1 - _NEAR_END:
        kind = "paper"
        message = (
            f"Bare paper stays bare; from level {start:.3f} up to it the aim is blended, which "
            f"departs from it {off}."
        )
    else:
        kind = "range"
        message = (
            f"Between levels {start:.2f} and {end:.2f} no values print the aim; the nearest that "
            f"are possible depart from it {off}."
        )
    return Limit(kind, start, end, worst_Ch, worst_L, message)
