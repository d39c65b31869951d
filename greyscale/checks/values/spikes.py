"""Are there spikes in a spectrum that no ink and no paper has?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from greyscale.checks.case import Case
from greyscale.checks.finding import Finding, signed
from greyscale.checks.search import Explanation
from greyscale.checks.values.missing import listed
from greyscale.colorimetry.arrays import Array, median

KIND = "spike in the spectrum"

_LEAST = 0.008  # Height of a spike, as reflectance, under which nothing is said,
_SHARE = 0.06  # nor under this share of the reflectance around it.
_TIMES = 12.0  # How far above the usual roughness at its wavelength a spike must stand.
_FEWEST = 5
_BESIDE = 4  # Neighbours in reflectance, on each side, that tell what is usual.


def findings(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name the patches with one wavelength that stands out from those beside it."""
    reading = case.reading
    if reading.spectra is None or reading.wavelengths is None or len(reading) < _FEWEST:
        return
    slots = np.flatnonzero(explanation.rows >= 0)
    spectra = reading.spectra[explanation.rows[slots]]
    if spectra.shape[1] < _FEWEST:
        return
    height = standing_out(spectra)
    limit = np.maximum(_LEAST, _SHARE * np.abs(spectra[:, 1:-1]))
    found = np.abs(height) > limit
    if found.any():
        bad = np.flatnonzero(found.any(axis=1))
        row, band = np.unravel_index(np.argmax(np.abs(height)), height.shape)
        yield Finding(
            kind=KIND,
            where=listed([case.label(slots[i]) for i in bad]),
            probability=0.97,
            found=f"A single wavelength stands out: {case.label(slots[row])} at "
            f"{reading.wavelengths[band + 1]:.0f} nm by {signed(height[row, band], 3)}.",
            advice="Shield the instrument from stray light, calibrate it, and read again.",
            ids=tuple(case.ids[slots[i]] for i in bad),
        )


def standing_out(spectra: Array) -> Array:
    """Return by how much each inner wavelength stands out in its spectrum, beyond what is usual.

    A spectrum's bends are those of inks and paper, which its neighbours in reflectance share:
    the usual height at a wavelength is the median of theirs.

    Parameters
    ----------
    spectra
        Shape (n, m).

    Returns
    -------
    Array of shape (n, m - 2); 0 where nothing unusual stands out.
    """
    sides = (spectra[:, :-2] + spectra[:, 2:]) / 2
    height = spectra[:, 1:-1] - sides
    relative = height / np.maximum(np.abs(sides), 0.01)
    order = np.argsort(spectra.mean(axis=1))
    usual = np.empty_like(relative)
    usual[order] = _running_medians(relative[order])
    away = relative - usual
    spread = 1.4826 * median(np.abs(away), axis=0)
    unusual = np.abs(away) > _TIMES * np.maximum(spread, 0.001)
    # A spike bends its neighbours the other way, half as much: only the peak counts.
    size = np.abs(height)
    peak = np.ones(size.shape, dtype=np.bool_)
    peak[:, 1:] &= size[:, 1:] >= size[:, :-1]
    peak[:, :-1] &= size[:, :-1] >= size[:, 1:]
    return np.where(unusual & peak, away * np.maximum(np.abs(sides), 0.01), 0.0)


def _running_medians(values: Array) -> Array:
    """Return for each row the median of itself and up to `_BESIDE` rows on each side."""
    count = len(values)
    medians = np.empty_like(values)
    whole = range(_BESIDE, count - _BESIDE)
    if whole:
        windows = np.lib.stride_tricks.sliding_window_view(values, 2 * _BESIDE + 1, axis=0)
        medians[whole.start : whole.stop] = np.sort(windows, axis=-1)[..., _BESIDE]
    for row in (row for row in range(count) if row not in whole):
        near = np.sort(values[max(row - _BESIDE, 0) : row + _BESIDE + 1], axis=0)
        medians[row] = (near[(len(near) - 1) // 2] + near[len(near) // 2]) / 2
    return medians
