"""What white sheets tell: how much a glass lets through, how far a light makes them glow."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.fluorescence import excitation
from greyscale.colorimetry.lights import (
    REFERENCE_LIGHT,
    Light,
    at_wavelengths,
    interpolate_power,
    light,
    luminous_power,
)
from greyscale.readings.lamps import read_spectrum

# How much light a glass lets through, from one white sheet read bare and through the glass.

ASSUMES = (
    "Light passes the glass twice, to the sheet and back, so the transmittance is the square root "
    "of the ratio. Reflections to and fro between sheet and glass are neglected, which makes it "
    "all a few per cent too high, much the same at every wavelength. The sheet must not glow: "
    "take one without brightener, or read it in M2."
)
"""What `glass_of` rests on."""

WHITE = 0.3
"""A sheet that reflects less than this somewhere from 420 nm up is not white."""

_BEGINS_WHITE = 420.0
_HIGHEST = 1.02  # Beyond noise, nothing is lighter behind a glass.


@dataclass(frozen=True, eq=False)
class Glass:
    """A glass as it was measured.

    Attributes
    ----------
    wavelengths, transmittance
        Shape (n,): nm, and from 0 to 1.
    """

    wavelengths: Array
    transmittance: Array
    bare: str
    behind: str

    @property
    def remark(self) -> str:
        """What is not known of it, as a sentence."""
        begins, first = float(self.wavelengths[0]), float(self.transmittance[0])
        return (
            f"Below {begins:g} nm nothing was read: there the glass is taken to let {first:.2f} "
            "through, as at that wavelength. Most glass lets less through, so brighteners are "
            "counted at their most."
        )


def glass_of(bare: Path, behind: Path) -> Glass:
    """Measure a glass by a white sheet.

    Parameters
    ----------
    bare, behind
        Spectra of the sheet alone and through the glass: ISO 28178 text (the mean of its patches)
        or two columns, in the same unit.

    Raises
    ------
    BadInput
        For files without spectra, of unlike wavelengths, of no white sheet, or the wrong way round.
    """
    (nm, alone), (other, through) = _rising(bare), _rising(behind)
    if not np.array_equal(nm, other):
        raise BadInput(
            f"holds other wavelengths ({other[0]:g} to {other[-1]:g} nm, {other.size} values) than "
            f"{bare} ({nm[0]:g} to {nm[-1]:g} nm, {nm.size} values); read both alike",
            behind,
        )
    scale = 100.0 if alone.max() > 1.5 else 1.0
    dark = (alone < WHITE * scale) & (nm >= _BEGINS_WHITE)
    if dark.any():
        raise BadInput(
            f"reflects only {alone[dark][0] / scale:.2f} at {nm[dark][0]:g} nm; read a white sheet",
            bare,
        )
    ratio = np.maximum(through, 0.0) / np.maximum(alone, 1e-3 * scale)
    share = np.sqrt(ratio)
    if np.median(share) > _HIGHEST:
        raise BadInput(
            f"is lighter than {bare}, which is said to be bare; give the bare sheet first, and "
            "both in the same unit",
            behind,
        )
    return Glass(nm, np.clip(share, 0.0, 1.0), str(bare), str(behind))


def write_glass(glass: Glass, target: Path) -> None:
    """Write a glass as a file that `--glazing` takes, whole or not at all."""
    # A line end in a file's name must not become one here.
    behind, bare = (" ".join(Path(path).name.split()) for path in (glass.behind, glass.bare))
    lines = [
        f"# greyscale glazing: {behind} against {bare}",
        f"# {ASSUMES}",
        f"# {glass.remark}",
        "wavelength_nm,transmittance",
        *(f"{nm:g},{share:.4f}" for nm, share in zip(glass.wavelengths, glass.transmittance,
                                                     strict=True)),
    ]  # fmt: skip
    write_whole(target, "\n".join(lines) + "\n")


def _rising(path: Path) -> tuple[Array, Array]:
    """The one spectrum of a file, (n,) nm rising and (n,) values: of ISO 28178 text the mean."""
    nm, values = read_spectrum(path)
    order = np.argsort(nm)
    return nm[order], values[order]


# How far a hall's light makes brighteners glow, from two sheets seen in it, one brightened.

SEEN_ALIKE = 0.02
"""How well two sheets are lit and seen alike, one after the other in one place, as a share; common
practice, no source."""

NOT_ALIKE = 0.04
"""Sheets that differ in what was seen by more than this share from what was read of them, beyond
the glow, were mixed up or not lit alike: two standard deviations; common practice, no source."""

LEAST_GLOW = 0.03
"""A sheet that glows less at its peak, as a radiance factor (M1 - M2), tells too little."""

BEGINS = 300.0
"""What is not known of the lamp lies from here, nm, to where its table begins."""

_BEYOND_GLOW = (550.0, 700.0)  # nm: next to nothing that is seen of a sheet is its glow.
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
        For files without spectra, of unlike wavelengths, a sheet that hardly glows, or sheets that
        were mixed up or not lit alike.
    """
    (nm, seen_bright), (other, seen_plain) = _rising(bright), _rising(plain)
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
    _refuse_unlike(bright, plain, nm, seen_bright / M2, seen_plain / reflected)
    # In any unit: by its own peak, so that what is supposed below the table adds no luminance.
    power = np.maximum(seen_plain, 0.0) / reflected
    unit = float(power.max()) / 1000.0 or 1.0
    power, seen_bright = power / unit, seen_bright / unit
    lamp, D50 = _lamp(nm, power), light(REFERENCE_LIGHT)
    peak = (glow >= _NEAR_PEAK * glow.max()) & (power > 0)
    own = power[peak] / luminous_power(lamp)
    of_D50 = glow[peak] * at_wavelengths(D50, nm[peak]) / luminous_power(D50) / own
    seen = seen_bright[peak] / power[peak]
    excites = float(of_D50 @ (seen - M2[peak]) / (of_D50 @ of_D50))
    sd = SEEN_ALIKE * float(of_D50 @ seen / (of_D50 @ of_D50))
    if excites < -NOT_ALIKE / SEEN_ALIKE * sd:
        raise BadInput(
            f"is darker in the blue, against {plain}, than both sheets are without any glow. "
            + _CAUSES,
            bright,
        )
    excites = max(excites, 0.0)
    below = np.arange(BEGINS, nm[0])
    whole = np.concatenate([below, nm])
    some = _lamp(whole, np.concatenate([np.ones(below.size), power]))
    known = excitation(lamp)
    missing = max(excites - known, 0.0) / (excitation(some) - known) if below.size else 0.0
    return LampBySheets(whole, np.concatenate([np.full(below.size, missing), power]), excites, sd)


_CAUSES = (
    "The sheets may be mixed up, or were not lit alike: give BRIGHT before PLAIN, each with its "
    "own readings, and see both in one place"
)


def _refuse_unlike(bright: Path, plain: Path, nm: Array, one: Array, other: Array) -> None:
    """Refuse sheets that tell two lamps, by what was seen over what reflects, each (n,)."""
    low, high = _BEYOND_GLOW
    beyond = (nm >= low) & (nm <= high)
    # By their sums, so that what a lamp hardly has, which is noise, counts for little.
    lit = float(other[beyond].sum())
    if not lit > 0:
        raise BadInput(f"shows no light from {low:g} to {high:g} nm; see it there too", plain)
    off = float(one[beyond].sum()) / lit - 1.0
    if abs(off) > NOT_ALIKE:
        raise BadInput(
            f"is {100 * abs(off):.0f} % {'lighter' if off > 0 else 'darker'} in the hall, against "
            f"{plain}, than the readings in M2 say ({low:g} to {high:g} nm); up to "
            f"{100 * NOT_ALIKE:.0f} % is taken. {_CAUSES}",
            bright,
        )


_MARK = "# greyscale lamp: as two sheets under it tell"


def write_lamp(lamp: LampBySheets, target: Path) -> None:
    """Write a lamp as a file that `--light` takes, whole or not at all."""
    rows = [f"{nm:g},{power:.6g}" for nm, power in zip(lamp.wavelengths, lamp.power, strict=True)]
    write_whole(target, "\n".join([_MARK, "wavelength (nm),relative power", *rows]) + "\n")


def _lamp(nm: Array, power: Array) -> Light:
    return Light("lamp", interpolate_power(nm, power, linear=True), nm, power)


def _reflectance(path: Path, nm: Array) -> Array:
    grid, values = _rising(path)
    scale = 100.0 if values.max() > 2.0 else 1.0
    return np.maximum(np.interp(nm, grid, values / scale), 1e-3)
