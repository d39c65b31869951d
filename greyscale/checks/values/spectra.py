"""Are there reflectance factors that no print can have?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from greyscale.checks.case import Case
from greyscale.checks.finding import Finding
from greyscale.checks.search import Explanation
from greyscale.checks.values.missing import listed

NEGATIVE = "negative reflectance"
COPIED = "value copied"

_UNLIKE = 0.02  # Device values (0 to 1) that differ by more cannot measure quite the same.
_BELOW = -0.002  # Noise round nothing may fall below 0 by so much.


def findings(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name patches with negative reflectance factors, and patches with one and the same value."""
    yield from _negative(case, explanation)
    yield from _copied(case, explanation)


def _negative(case: Case, explanation: Explanation) -> Iterator[Finding]:
    spectra = case.reading.spectra
    if spectra is None:
        return
    slots = np.flatnonzero(explanation.rows >= 0)
    own = spectra[explanation.rows[slots]]
    bad = slots[own.min(axis=1) < _BELOW]
    if bad.size:
        least = float(own.min())
        yield Finding(
            kind=NEGATIVE,
            where=listed([case.label(slot) for slot in bad]),
            probability=1.0,
            found=f"Reflectance factors below zero, down to {least:.4f}.",
            advice="Calibrate the instrument, including its black trap, and read again.",
            ids=tuple(case.ids[slot] for slot in bad),
        )


def _copied(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Find neighbours of unlike device values whose values are the same to the last digit."""
    reading = case.reading
    values = reading.lab if reading.spectra is None else reading.spectra
    rows = explanation.rows
    before = np.concatenate([strip.slots[:-1] for strip in case.strips])
    after = np.concatenate([strip.slots[1:] for strip in case.strips])
    unlike = np.max(np.abs(case.device[before] - case.device[after]), axis=1) > _UNLIKE
    same = np.all(values[rows[before]] == values[rows[after]], axis=1)
    pairs = np.flatnonzero(unlike & same & (rows[before] >= 0) & (rows[after] >= 0))
    if pairs.size:
        slots = np.unique(np.concatenate([before[pairs], after[pairs]]))
        yield Finding(
            kind=COPIED,
            where=listed([case.label(int(slot)) for slot in slots]),
            probability=0.95,
            found="Neighbouring patches of different tone have the same values to the last digit.",
            advice="Read them again.",
            ids=tuple(case.ids[slot] for slot in slots),
        )
