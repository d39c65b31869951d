"""How a driver answers to what is sent: in colour, in lightness only, or in steps; and at black.

One chart tells, before anything is solved. Near-neutral patches say whether a*, b* follow the
channels at all, and whether what one of them does foretells what its neighbours do. The ramp says
from which level on tones separate from black, and whether more ink still prints darker there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, columns_at, matern_52, runs_of
from greyscale.readings.reading import AXIS_TOLERANCE, NEAR_NEUTRAL

COLOUR, LIGHTNESS, STEPS, NOT_KNOWN = "colour", "lightness only", "steps", "not known"

LEAST_ANSWER = 8.0
"""ΔCh per unit of a channel's departure; ordinary printers answer with 40 to 100. Below it, what
the widest near-neutral patch does to a* and b* is about 1. Common practice, no source."""

NOT_FORETOLD = 0.09
"""Share of the near-neutral patches' departures in a*, b* (of their squares) that their neighbours
may leave untold. Of printers that answer smoothly it is 0.01 at most with some hundred such patches
and grows as they lie further apart; of simulated screens of 32 amounts of each ink it is 0.04 to
0.13, and correcting their tint still takes two thirds of it away. With 0.12 one of the 40 readings
of drivers that snap in `reports/odd-drivers.md` was made worse, with 0.09 none, nor any of 25 more
drivers that were not looked at when it was chosen."""

BLOCKED = 0.5
"""L* that tones may differ by and still print alike: half of what makes a tone distinct."""

_FEWEST = 6  # Near-neutral patches from which it can be told whether a*, b* answer at all,
_FEWEST_STEPS = 12  # and whether in steps.
_DEEPEST = 0.5  # A print that is darkest above this level was measured in another order.
_MANY = 60  # Near-neutral patches, so close that neighbours foretell a smooth answer.
_MOST_UNTOLD = 0.4
_SURE = 4.0  # Standard deviations that a rise of L* towards black must have to be no noise.
_FEWEST_STAIRS = 3  # Flat stretches between jumps, by which a stepping tone scale is known.
_LENGTHS = (0.35, 0.12)
"""Levels over which the answer beside the axis stays alike; the second where patches are few: a
driver that changes from light inks to dark ones answers otherwise from tone to tone, and is told by
patches of one tone. Common practice, no source."""

_MOST, _MOST_TONES = 1000, 65  # Patches, tones: more cost their number cubed and tell no more.
_BEND = 0.3  # Share of the square of departures beside their slope.


@dataclass(frozen=True)
class Response:
    """How the driver answers.

    Attributes
    ----------
    kind
        "colour", "lightness only", "steps", or "not known" (fewer than six near-neutral patches
        that are lighter than black).
    answer
        ΔCh per unit of departure of the channels from each other; None where not known.
    foretold
        Share of the near-neutral patches' departures in a*, b* that their neighbours foretell; or
        None.
    blocked_below
        The level below which all tones print alike, as black; None where they separate.
    darkest_level, darker_by
        Where the print is darkest, and by how much L* than at level 0: 0 and 0 where more ink
        never prints lighter.
    tone_step
        How far apart in L* the tones are that it knows, where neighbours of the ramp print alike
        and others jump; 0 where it knows them all.
    """

    kind: str
    answer: float | None
    foretold: float | None
    blocked_below: float | None
    darkest_level: float
    darker_by: float
    tone_step: float = 0.0


def response(device: Array, lab: Array, counts: Array, sd_L: float, sd_ab: float) -> Response:
    """Classify how a driver answers.

    Parameters
    ----------
    device, lab
        Shape (n, 3): R, G, B from 0 to 1, each once, and the mean CIELAB measured for them; three
        or more on the grey axis.
    counts
        Shape (n,): how many measurements each mean is of.
    sd_L, sd_ab
        Standard deviation of one measurement of L*, and of a* or b*.
    """
    apart = np.ptp(device, axis=1)
    axis = apart < AXIS_TOLERANCE
    order = np.argsort(device[axis].mean(axis=1), kind="stable")
    level, ramp = device[axis].mean(axis=1)[order], lab[axis][order]
    blocked, darkest, by = shadow(level, ramp[:, 0], sd_L / np.sqrt(counts[axis][order]))
    beside = ~axis & (apart <= NEAR_NEUTRAL) & (lab[:, 0] > ramp[0, 0] + 0.1 * np.ptp(ramp[:, 0]))
    kind, answer, foretold = NOT_KNOWN, None, None
    if beside.sum() >= _FEWEST:
        answer = _answer(device[beside], lab[beside], ramp, sd_ab)
        kind = COLOUR if answer >= LEAST_ANSWER else LIGHTNESS
    if answer is not None and beside.sum() >= _FEWEST_STEPS:
        foretold = _foretold(device[beside], lab[beside], level, ramp, sd_ab)
        few = max(_MANY / int(beside.sum()), 1.0)
        untold = min(NOT_FORETOLD * few**2, _MOST_UNTOLD)
        if kind == COLOUR and foretold < 1.0 - untold:
            kind = STEPS
    step = _tone_step(level, ramp[:, 0], sd_L, max(blocked or 0.0, darkest))
    return Response(STEPS if step else kind, answer, foretold, blocked, darkest, by, step)


def _offset(device: Array) -> Array:
    return np.asarray(device - device.mean(axis=1, keepdims=True))


def _answer(device: Array, lab: Array, ramp: Array, sd_ab: float) -> float:
    """How much a*, b* depart from those of the ramp at the same L*, by the channels' departure."""
    rising = np.argsort(ramp[:, 0])
    off = lab[:, 1:] - columns_at(lab[:, 0], ramp[rising, 0], ramp[rising, 1:])
    square = np.sum(off**2, axis=1) - 2 * 1.5 * sd_ab**2
    size = np.sum(_offset(device) ** 2, axis=1)
    return float(np.sqrt(max(float(square.mean() / size.mean()), 0.0)))


def _foretold(device: Array, lab: Array, level: Array, ramp: Array, sd_ab: float) -> float:
    """How much of what each near-neutral patch does to a*, b* is told by all others: 1 is all.

    L* is left out: where black ink sets in, it bends at once, and is no less to be relied on.

    Slopes and bends that change smoothly with the level, as a Gaussian process, each patch left
    out in turn (Rasmussen and Williams 2006, 5.12). A driver that lays grey by the least of its
    inks has a kink on the axis, other slopes to either side: they go with the least and the most
    of the channels. Of both kinds of driver, the one that is told better: a snap is neither.
    """
    if len(device) > _MOST:
        # At random: charts take the directions in turn.
        kept = np.random.default_rng(0).choice(len(device), _MOST, replace=False)
        device, lab = device[kept], lab[kept]
    few = len(device) < _MANY
    count = min(len(level), _MOST_TONES) if few else 0
    tones = level[np.linspace(0, len(level) - 1, count).astype(int)]
    mean, offset = np.append(device.mean(axis=1), tones), _offset(device)
    off = lab - columns_at(device.mean(axis=1), level, ramp)
    offset = offset / np.sqrt(np.mean(np.sum(offset**2, axis=1)))
    offset = np.vstack([offset, np.zeros((len(tones), 3))])
    dot = offset @ offset.T
    ends = np.column_stack([offset.min(axis=1), offset.max(axis=1)])
    found = []
    for length in _LENGTHS if few else _LENGTHS[:1]:
        alike = matern_52(np.sqrt(5.0) / length * np.abs(mean[:, np.newaxis] - mean))
        # Between the tones of a short ramp the axis is not known either.
        for smooth in (dot + _BEND * dot**2, 1.0 + dot + _BEND * dot**2)[: 1 + few]:
            for kink in (0.0, ends @ ends.T):
                found.append(_told((smooth + kink) * alike, off[:, 1:], sd_ab))
    return max(found)


def _told(alike: Array, off: Array, sd_ab: float) -> float:
    """The share of the squares of a*, b* that a covariance of size 1 foretells.

    Parameters
    ----------
    alike
        Shape (n + m, n + m): of n patches, and of m tones of the ramp, which depart by nothing.
    off
        Shape (n, 2): by how much a*, b* of the patches depart from the ramp's.
    """
    n, size = len(off), np.mean(off**2)
    noise = 1.5 * sd_ab**2 + 1e-3 * size
    inverse = np.linalg.inv(size * alike + noise * np.eye(len(alike)))[:n, :n]
    residual = inverse @ off / np.diag(inverse)[:, np.newaxis]
    left = max(float(np.sum(residual**2) - off.size * noise), 0.0)
    return 1.0 - left / max(float(np.sum(off**2)), 1e-9)


def _tone_step(level: Array, L: Array, sd: float, above: float) -> float:
    """The step from tone to tone of a driver that knows few of them; 0 of one that knows all."""
    # Paper's end may be bleached, and black's blocked.
    low, high = L[0] + 3.0, L[-1] - 3.0
    inside = (level > above) & (low < L) & (high > L)
    if inside.sum() < 2:
        return 0.0
    level, L = level[inside], L[inside]
    rise = np.diff(L)
    slope = float(L[-1] - L[0]) / float(level[-1] - level[0])
    enough = max(2.0 * np.sqrt(2.0) * sd, BLOCKED)
    alike, jumps = np.abs(rise) < enough, rise > 3.0 * enough
    # Flat between two jumps, again and again: a smooth scale is flat in one place.
    # Tones of two charts may lie side by side: they are alike without being flat.
    stairs = [
        start > 0
        and stop < rise.size
        and jumps[start - 1]
        and jumps[stop]
        and slope * (level[stop] - level[start]) >= 2.0 * enough
        for start, stop in runs_of(alike)
    ]
    return float(np.median(rise[jumps])) if sum(stairs) >= _FEWEST_STAIRS else 0.0


def shadow(level: Array, L: Array, sd: Array) -> tuple[float | None, float, float]:
    """Below which level all prints alike, where the print is darkest, and by how much L*.

    A rise towards black counts where it is no noise; the least of many alike is no proof.

    Parameters
    ----------
    level
        Shape (n,), rising; the same level once for each sheet that holds it.
    L, sd
        Shape (n,): L* measured, and its standard deviation.
    """
    darkest = int(np.argmin(L))
    rise = L[0] - L[darkest]
    spread = float(np.hypot(sd[0], sd[darkest]))
    no_rise = rise < max(_SURE * spread, BLOCKED)
    if not level[0] < level[darkest] <= _DEEPEST or level[0] > AXIS_TOLERANCE or no_rise:
        darkest, rise = 0, 0.0
    enough = np.maximum(BLOCKED, 2.0 * np.hypot(sd[darkest:], sd[darkest]))
    alike = darkest + int(np.argmax(np.append(L[darkest:] - L[darkest] >= enough, True))) - 1
    if level[alike] <= level[darkest] or alike + 1 >= len(level):
        return None, float(level[darkest]), float(rise)
    black = float(np.mean(L[darkest : alike + 1]))
    share = (black + BLOCKED - L[alike]) / (L[alike + 1] - L[alike])
    crossing = level[alike] + float(np.clip(share, 0.0, 1.0)) * (level[alike + 1] - level[alike])
    return float(crossing), float(level[darkest]), float(rise)
