"""Which inks the simulated printer has: invented absorption curves of plausible shape."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike


@dataclass(frozen=True)
class Band:
    """One absorption band: a bell that may be wider on one side.

    Attributes
    ----------
    centre
        Wavelength of its peak, nm.
    below, above
        Its standard deviation on the short and the long side, nm.
    height
        Its peak, as a density.
    """

    centre: float
    below: float
    above: float
    height: float


@dataclass(frozen=True)
class Ink:
    """One ink of the simulated printer.

    Attributes
    ----------
    name
        What it is called.
    bands
        Its absorption bands.
    carbon
        Density at 550 nm of its carbon pigment.
    carbon_slope
        Carbon absorbs as (550 nm / wavelength) to this power: above 0 it prints warm.
    strength
        Density that one unit of ink volume gives: diluted inks need more drops.
    """

    name: str
    bands: tuple[Band, ...]
    carbon: float
    carbon_slope: float
    strength: float

    def density(self, wavelengths: ArrayLike) -> Array:
        """Give the density spectrum of one unit of this ink, shape (m,); wavelengths in nm."""
        nm = np.asarray(wavelengths, dtype=np.float64)
        total = self.carbon * (550.0 / nm) ** self.carbon_slope
        for band in self.bands:
            width = np.where(nm < band.centre, band.below, band.above)
            total = total + band.height * np.exp(-0.5 * ((nm - band.centre) / width) ** 2)
        return np.asarray(total)


# Invented; the shapes are those of common pigment families (copper phthalocyanine, quinacridone,
# azo yellow, carbon). Cyan lets through red beyond 680 nm, which is what makes greys that are
# mixed with it turn reddish under incandescent light. The dilutions are carbon toned to look
# neutral beside the colours, the grey a little green, the light grey a little magenta.
INKS: Mapping[str, Ink] = MappingProxyType(
    {
        ink.name: ink
        for ink in (
            Ink(
                "cyan",
                (
                    Band(622, 44, 26, 0.95),
                    Band(668, 20, 18, 0.35),
                    Band(355, 35, 32, 0.55),
                    Band(570, 40, 30, 0.12),
                ),
                0.035,
                0.5,
                1.0,
            ),
            Ink(
                "magenta",
                (
                    Band(533, 34, 17, 0.82),
                    Band(566, 16, 14, 0.66),
                    Band(495, 30, 25, 0.22),
                    Band(365, 40, 45, 0.40),
                ),
                0.03,
                1.0,
                1.0,
            ),
            Ink(
                "yellow",
                (Band(432, 48, 33, 0.88), Band(470, 25, 17, 0.25)),
                0.012,
                2.0,
                1.0,
            ),
            Ink("black", (Band(610, 90, 70, 0.03),), 0.97, 0.28, 1.0),
            Ink("grey", (Band(640, 55, 38, 0.065), Band(425, 40, 40, 0.03)), 0.95, 0.10, 0.42),
            Ink("light grey", (Band(545, 32, 26, 0.03), Band(630, 45, 35, 0.05)), 0.95, 0.05, 0.15),
        )
    }
)
"""Every ink by its name, in the order of the separation's columns."""

INK_STRENGTHS: Array = np.array([ink.strength for ink in INKS.values()])
"""Strength of every ink, shape (6,)."""

UV = 365.0
"""Where brighteners absorb most, nm: how much ink hides them is taken from here."""


@lru_cache
def ink_densities(wavelengths: tuple[float, ...]) -> Array:
    """Give the density spectra of all inks, shape (6, m), read-only; wavelengths in nm."""
    table = np.stack([ink.density(wavelengths) for ink in INKS.values()])
    table.setflags(write=False)
    return table
