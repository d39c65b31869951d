"""Did the instrument reach its limit: values cut off at one and the same height?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from greyscale.checks.case import Case
from greyscale.checks.finding import Finding
from greyscale.checks.search import Explanation
from greyscale.checks.values.missing import listed
from greyscale.colorimetry.arrays import Indices, Mask

KIND = "saturated"

_LIGHT = 0.5  # Lower plateaus are rounding, not saturation.
_BANDS = 4  # Neighbouring wavelengths with exactly the highest value.
_TOO_MUCH = 1.3  # More than even a strongly brightened paper reflects and emits.


def findings(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name light patches whose spectrum is cut off flat, or reflects more than paper can."""
    spectra = case.reading.spectra
    if spectra is None:
        return
    slots = np.flatnonzero(explanation.rows >= 0)
    own = spectra[explanation.rows[slots]]
    top = own.max(axis=1)
    highest = own == top[:, None]
    flat = (top > _LIGHT) & (highest.sum(axis=1) >= _BANDS) & (np.ptp(own, axis=1) > 0.02)
    if flat.any():
        flat[flat] = _longest_run(highest[flat]) >= _BANDS
    bad = slots[flat | (top > _TOO_MUCH)]
    if bad.size:
        yield Finding(
            kind=KIND,
            where=listed([case.label(slot) for slot in bad]),
            probability=0.99 if (top > _TOO_MUCH).any() else 0.9,
            found=f"Light patches are cut off at a reflectance of {top[flat].max():.3f} over "
            "several wavelengths."
            if flat.any()
            else f"Reflectance factors up to {top.max():.2f}, more than paper can have.",
            advice="Clean the instrument's own white tile, calibrate on it, and read again.",
            ids=tuple(case.ids[slot] for slot in bad),
        )


def _longest_run(mask: Mask) -> Indices:
    """Return the length of the longest run of True in each line."""
    longest = np.zeros(len(mask), dtype=np.intp)
    run = np.zeros(len(mask), dtype=np.intp)
    for column in mask.T:
        run = np.where(column, run + 1, 0)
        longest = np.maximum(longest, run)
    return longest
