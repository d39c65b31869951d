"""Is the measuring condition that the reading states the one it was measured in?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from greyscale.checks.case import Case
from greyscale.checks.finding import Finding
from greyscale.checks.search import Explanation
from greyscale.colorimetry.arrays import Array

KIND = "wrong condition"

_GLOW = 0.012  # How much more paper must give around 440 nm than around 510 nm.
_PEAK, _BESIDE = (430.0, 450.0), (500.0, 520.0)


def findings(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Say so if a reading without ultraviolet shows a brightener that only ultraviolet excites."""
    reading = case.reading
    if reading.spectra is None or reading.wavelengths is None or reading.condition != "M2":
        return
    paper = reading.spectra[int(np.argmax(reading.lab[:, 0]))]
    glow = brightener_glow(paper, reading.wavelengths)
    if glow is not None and glow > _GLOW:
        yield Finding(
            kind=KIND,
            where="the whole reading",
            probability=0.9 if glow > 2 * _GLOW else 0.7,
            found="The reading says M2 (no ultraviolet), but its paper glows as under "
            f"ultraviolet: around 440 nm it gives {glow:.3f} more than around 510 nm.",
            advice="See what the instrument was set to; state that condition, or read again.",
            misread=False,
        )


def brightener_glow(paper: Array, wavelengths: Array) -> float | None:
    """Return by how much paper gives more light at 430-450 nm than at 500-520 nm.

    Fibres and coatings reflect less towards the blue; brighteners emit around 440 nm (common
    practice, no source). A paper tinted blue looks a little alike.

    Returns
    -------
    The difference of mean reflectance factors, or None where the wavelengths do not reach.
    """
    peak = (wavelengths >= _PEAK[0]) & (wavelengths <= _PEAK[1])
    beside = (wavelengths >= _BESIDE[0]) & (wavelengths <= _BESIDE[1])
    if not peak.any() or not beside.any():
        return None
    return float(np.mean(paper[peak]) - np.mean(paper[beside]))
