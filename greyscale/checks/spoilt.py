"""Which single patches are spoilt: what each measures, against what all others let expect of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.checks.smoothness import expected_lab, precision
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.readings.reading import Reading

LEAST_Z = 5.0
"""Leave-one-out standard deviations from which on a patch is spoilt. Of normal values in three
channels of 147 patches one lies beyond it in one reading of 4 000."""

LEAST_DEPARTURE = 1.0
"""CIELAB units in one of L*, a*, b* below which a patch is left alone: the least visible cast."""

_MOST = 0.05  # Of the patches; with more, the printer is rough and no single patch is to blame.
_FEWEST = 12  # Patches without which no one is told from the others.
_BLOCK = 500  # Patches that are looked at together, so that time grows with the patches alone.
_SD_OF_MEDIAN = 1.4826  # Of a normal distribution, times the median of its absolute values.
_NOISES = (0.06, 0.12, 0.25, 0.5, 1.0)
_CLIPPED = 9.0  # A squared z beyond this counts as this: spoilt patches don't choose the noise.


@dataclass(frozen=True)
class SpoiltPatch:
    """A patch that fits no smooth answer of a printer that all other patches allow.

    Attributes
    ----------
    id, index
        Its `SAMPLE_ID`, and where it stands in the reading.
    z
        The largest departure in L*, a*, b*, in standard deviations left one out.
    departure
        Measured less expected L*, a*, b*.
    """

    id: str
    index: int
    z: float
    departure: tuple[float, float, float]


def spoilt_patches(reading: Reading) -> tuple[SpoiltPatch, ...]:
    """The patches whose measurement no other patch bears out, the worst first.

    The worst is set aside, and the others judged anew without it, until all fit. The noise is
    that of the reading's own departures, so a rough paper raises no alarm.

    Returns
    -------
    None, where more than one patch in twenty would be spoilt: then it is not a matter of patches.
    """
    found: list[SpoiltPatch] = []
    for rows in _blocks(reading):
        found.extend(_in_block(reading, rows))
    if len(found) > max(1.0, _MOST * len(reading)):
        return ()
    return tuple(sorted(found, key=lambda patch: -patch.z))


def _blocks(reading: Reading) -> list[Indices]:
    """Indices of patches that are judged together; each block holds tones from the whole range."""
    count = -(-len(reading) // _BLOCK)
    order = np.argsort(reading.level, kind="stable")
    return [order[start::count] for start in range(count)] if len(reading) >= _FEWEST else []


def _in_block(reading: Reading, rows: Indices) -> list[SpoiltPatch]:
    found: list[SpoiltPatch] = []
    device, lab = reading.device[rows], reading.lab[rows]
    departure = lab - expected_lab(device)
    matrices = min(
        (list(precision(device, noise).channels) for noise in _NOISES),
        key=lambda offered: _surprise(*_left_out(offered, departure)),
    )
    while len(found) <= max(1.0, _MOST * len(rows)) and len(departure) >= _FEWEST:
        away, variance = _left_out(matrices, departure)
        z = np.abs(away) / np.sqrt(variance)
        z /= np.maximum(_SD_OF_MEDIAN * np.median(z, axis=0), 1.0)
        z[np.abs(away) < LEAST_DEPARTURE] = 0.0
        worst = int(np.argmax(z.max(axis=1)))
        if z[worst].max() < LEAST_Z:
            break
        index = int(rows[worst])
        L, a, b = (float(value) for value in away[worst])
        found.append(SpoiltPatch(reading.ids[index], index, float(z[worst].max()), (L, a, b)))
        matrices = [_without(matrix, worst) for matrix in matrices]
        rows, departure = np.delete(rows, worst), np.delete(departure, worst, axis=0)
    return found


def _left_out(matrices: list[Array], departure: Array) -> tuple[Array, Array]:
    """By how much each value departs from what all others let expect, and its variance, (n, 3)."""
    variance = np.stack([1.0 / np.diag(matrix) for matrix in matrices], axis=1)
    pull = np.stack([matrix @ departure[:, i] for i, matrix in enumerate(matrices)], axis=1)
    return variance * pull, variance


def _surprise(away: Array, variance: Array) -> float:
    """Twice the negative log likelihood of the values left one out, outliers clipped.

    Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, 5.4.2.
    """
    return float(np.sum(np.minimum(away**2 / variance, _CLIPPED) + np.log(variance)))


def _without(matrix: Array, row: int) -> Array:
    """The precision of the other values once one is taken as unknown."""
    kept = np.delete(matrix, row, axis=0)
    column = kept[:, row]
    kept = np.delete(kept, row, axis=1)
    return np.asarray(kept - np.outer(column, column) / matrix[row, row])
