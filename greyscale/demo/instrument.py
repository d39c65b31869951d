"""What a simulated instrument's file holds: few digits, and now and then a person's mistake."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from greyscale.readings.reading import Reading

_DIGITS_OF_SPECTRA = 5
_DIGITS_OF_LAB = 3


def as_exported(reading: Reading) -> Reading:
    """Give a reading with the digits that an instrument's file has, CIELAB from those.

    Raises
    ------
    ValueError
        If the reading has no spectra.
    """
    if reading.spectra is None:
        raise ValueError("the simulated instrument measures spectra")
    rounded = replace(reading, spectra=np.round(reading.spectra, _DIGITS_OF_SPECTRA))
    return replace(rounded, lab=np.round(rounded.lab_under("D50"), _DIGITS_OF_LAB))


def strip_read_backwards(reading: Reading, strip: str) -> Reading:
    """Give the reading as it is when one strip was drawn through from its wrong end.

    The file names the patches in the order of the chart; what was measured stands reversed.

    Parameters
    ----------
    strip
        The strip's letter.

    Raises
    ------
    ValueError
        If the reading has no such strip.
    """
    places = reading.places or ()
    rows = np.array([i for i, place in enumerate(places) if place.rstrip("0123456789") == strip])
    if not rows.size:
        raise ValueError(f"the reading has no strip {strip}")
    order = np.arange(len(reading))
    order[rows] = rows[::-1]
    measured = reading.select(order)
    return replace(measured, ids=reading.ids, device=reading.device, places=reading.places)
