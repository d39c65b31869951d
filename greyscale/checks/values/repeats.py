"""Do patches of the same device values measure the same?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from greyscale.checks.case import Case
from greyscale.checks.finding import Finding
from greyscale.checks.search import Explanation
from greyscale.checks.smoothness import NOISE
from greyscale.colorimetry.arrays import Array, Indices, median
from greyscale.colorimetry.differences import delta_E_2000, delta_E_ab
from greyscale.readings.repeats import same_device

KIND = "repeats disagree"
SCATTER = "values scatter"

_LEAST = 1.0  # ΔE*ab under which repeats are never said to disagree,
_TIMES = 7.0  # nor under so many standard deviations of one measurement.
_ROUGH = 0.5  # Standard deviation from which on repeats as a whole scatter too much;
_FEWEST = 3  # of so many device values at least.
_CHI_MEDIAN = 1.538  # Median length of a normal vector in three dimensions, in its sd.


def findings(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name the repeats that lie too far from the others of their kind."""
    groups = _groups(case, explanation)
    if not groups:
        return
    away = [_away(lab) for _, lab in groups]
    sd = max(NOISE, float(median(np.concatenate(away))) / _CHI_MEDIAN)
    if sd > _ROUGH and len(groups) >= _FEWEST:
        yield scatter(f"Patches that were printed alike scatter by ΔE {sd * _CHI_MEDIAN:.1f}.")
        return
    limit = max(_LEAST, _TIMES * sd)
    for (slots, lab), distance in zip(groups, away, strict=True):
        if distance.max() > limit:
            yield _finding(case, slots, lab, distance, limit)


def scatter(found: str) -> Finding:
    """Say that values as a whole scatter more than a reading may."""
    return Finding(
        kind=SCATTER,
        where="the whole reading",
        probability=0.9,
        found=found,
        advice="Read the chart again with the instrument flat on the paper; a rough paper needs "
        "several readings of each patch.",
        misread=False,
    )


def _groups(case: Case, explanation: Explanation) -> list[tuple[Indices, Array]]:
    """Return slots and CIELAB of the patches of each device value that was measured repeatedly."""
    rows = explanation.rows
    measured = np.flatnonzero(rows >= 0)
    _, group = same_device(case.device[measured])
    found = []
    for number in np.flatnonzero(np.bincount(group) > 1):
        slots = measured[group == number]
        found.append((slots, case.reading.lab[rows[slots]]))
    return found


def _away(lab: Array) -> Array:
    """Return the distance of each repeat from the median of the others, as of one measurement."""
    rank = np.argsort(np.argsort(lab, axis=0, kind="stable"), axis=0)
    rest = len(lab) - 1
    # Where the middle ones of the others stand among all, in order.
    low, high = (at + (at >= rank) for at in ((rest - 1) // 2, rest // 2))
    ordered = np.sort(lab, axis=0)
    medians = np.take_along_axis(ordered, low, 0) + np.take_along_axis(ordered, high, 0)
    return np.asarray(delta_E_ab(lab, medians / 2) / np.sqrt(1.0 + 1.0 / rest))


def _finding(case: Case, slots: Indices, lab: Array, distance: Array, limit: float) -> Finding:
    labels = [case.label(slot) for slot in slots]
    odd = int(np.argmax(distance))
    widest = float(np.max(delta_E_2000(lab, np.broadcast_to(lab[odd], lab.shape))))
    if len(slots) == 2:
        which = "which of them is wrong cannot be told from two"
        advice = f"Read {labels[0]} and {labels[1]} again."
    else:
        which = f"{labels[odd]} is the one that departs from the others"
        advice = f"Look at {labels[odd]} for dust or a fault of the print, and read it again."
    return Finding(
        kind=KIND,
        where=", ".join(labels),
        probability=float(1.0 - 0.2 * np.exp(-(distance[odd] / limit - 1.0) * 6.0)),
        found=f"These patches were printed alike, but measure up to ΔE00 {widest:.1f} apart; "
        f"{which}.",
        advice=advice,
        ids=tuple(case.ids[slot] for slot in slots),
        misread=False,
    )
