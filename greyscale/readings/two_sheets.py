"""How far a hall's light makes brighteners glow, from two sheets seen in it, one brightened."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.fluorescence import REFERENCE, excitation
from greyscale.colorimetry.lights import (
    Light,
    at_wavelengths,
    interpolate_power,
    light,
    luminous_power,
)
from greyscale.readings.glass import read_spectrum

SEEN_ALIKE = 0.02
"""How well two sheets are lit and seen alike, one after the other in one place, as a share; common
practice, no source."""

LEAST_GLOW = 0.03
"""A sheet that glows less at its peak, as a radiance factor (M1 - M2), tells too little."""

BEGINS = 300.0
"""What is not known of the lamp lies from here, nm, to where its table begins."""

_NEAR_PEAK = 0.2  # Of the glow: beyond, what is seen is not the brightener's.


@dataclass(frozen=True, eq=False)
class LampBySheets:
    """A lamp as two sheets tell it.

    Attributes
    ----------
    wavelengths, power
        Shape (n,): nm, from `BEGINS`; relative power, below what was seen as much as excites alike.
    excites, sd
        How much it excites brighteners, relative to D50, and one standard deviation.
    """

    wavelengths: Array
    power: Array
    excites: float
    sd: float

    @property
    def remark(self) -> str:
        """What it rests on, as a sentence."""
        return (
            f"This light makes brighteners glow {self.excites:.2f} ± {2 * self.sd:.2f} times as "
            "much as D50 does (two standard deviations, if both sheets were seen alike to "
            f"{100 * SEEN_ALIKE:.0f} %). In the file, power below what was seen stands for that; "
            "it is no measurement."
        )


def lamp_by_sheets(
    bright: Path, plain: Path, bright_M1: Path, bright_M2: Path, plain_M2: Path
) -> LampBySheets:
    """Compute a lamp from what is seen of two sheets in its light.

    The unbrightened sheet tells the lamp; what the brightened one shows beyond its M2 is its glow,
    of which M1 - M2 is what D50 excites (see `greyscale.colorimetry.fluorescence`).

    Parameters
    ----------
    bright, plain
        Spectral radiance of the two sheets in the hall, in one unit: two columns.
    bright_M1, bright_M2, plain_M2
        The sheets' spectra by the instrument: ISO 28178 text (the mean of the patches) or two
        columns.

    Raises
    ------
    BadInput
        For files without spectra, of unlike wavelengths, or a sheet that hardly glows.
    """
    (nm, seen_bright), (other, seen_plain) = read_spectrum(bright), read_spectrum(plain)
    if not np.array_equal(nm, other):
        raise BadInput(f"holds other wavelengths than {bright}; see both sheets alike", plain)
    M1, M2, reflected = (_reflectance(path, nm) for path in (bright_M1, bright_M2, plain_M2))
    glow = M1 - M2
    if glow.max() < LEAST_GLOW:
        raise BadInput(
            f"is at most {glow.max():.3f} above {bright_M2}: that sheet hardly glows; take one "
            "with more brightener",
            bright_M1,
        )
    # In any unit: by its own peak, so that what is supposed below the table adds no luminance.
    power = np.maximum(seen_plain, 0.0) / reflected
    unit = float(power.max()) / 1000.0 or 1.0
    power, seen_bright = power / unit, seen_bright / unit
    lamp, D50 = _lamp(nm, power), light(REFERENCE)
    peak = (glow >= _NEAR_PEAK * glow.max()) & (power > 0)
    own = power[peak] / luminous_power(lamp)
    of_D50 = glow[peak] * at_wavelengths(D50, nm[peak]) / luminous_power(D50) / own
    seen = seen_bright[peak] / power[peak]
    excites = max(float(of_D50 @ (seen - M2[peak]) / (of_D50 @ of_D50)), 0.0)
    sd = SEEN_ALIKE * float(of_D50 @ seen / (of_D50 @ of_D50))
    below = np.arange(BEGINS, nm[0])
    whole = np.concatenate([below, nm])
    some = _lamp(whole, np.concatenate([np.ones(below.size), power]))
    known = excitation(lamp)
    missing = max(excites - known, 0.0) / (excitation(some) - known) if below.size else 0.0
    return LampBySheets(whole, np.concatenate([np.full(below.size, missing), power]), excites, sd)


_MARK = "# greyscale lamp: as two sheets under it tell"


def write_lamp(lamp: LampBySheets, target: Path) -> None:
    """Write a lamp as a file that `--light` takes, whole or not at all."""
    rows = [f"{nm:g},{power:.6g}" for nm, power in zip(lamp.wavelengths, lamp.power, strict=True)]
    write_whole(target, "\n".join([_MARK, "wavelength (nm),relative power", *rows]) + "\n")


def _lamp(nm: Array, power: Array) -> Light:
    return Light("lamp", interpolate_power(nm, power, linear=True), nm, power)


def _reflectance(path: Path, nm: Array) -> Array:
    grid, values = read_spectrum(path)
    scale = 100.0 if values.max() > 2.0 else 1.0
    return np.maximum(np.interp(nm, grid, values / scale), 1e-3)
