"""What the simulated printer prints with and on: inks, brighteners, papers, all invented."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.lights import Light, light
from greyscale.colorimetry.observers import colour_matching_functions

# Which inks the simulated printer has: invented absorption curves of plausible shape.


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
        """Return the density spectrum of one unit of this ink, shape (m,); wavelengths in nm."""
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
    """Return the density spectra of all inks, shape (6, m), read-only; wavelengths in nm."""
    table = np.stack([ink.density(wavelengths) for ink in INKS.values()])
    table.setflags(write=False)
    return table


# What a paper's brightener adds to a spectrum, by the light of the measuring condition.

# fmt: off
# Excitation of a stilbene brightener, relative: broad around 350 to 380 nm, next to nothing
# beyond 420 nm. Drawn from memory of the usual shape, not measured.
EXCITATION_NM = np.arange(300.0, 440.0, 10.0)
EXCITATION = np.array(
    [.30, .38, .50, .64, .80, .93, 1.0, .99, .88, .66, .38, .15, .04, .0]
)
# fmt: on

# Emission as a radiance factor under D50: peak at 440 nm, long tail towards green. Invented.
_PEAK, _BELOW, _ABOVE = 440.0, 17.0, 36.0

CONDITION_LIGHTS = {"M0": "A", "M1": "D50", "M2": None}
"""The light of each measuring condition (ISO 13655:2017); M2 leaves out what excites."""


def emission(wavelengths: ArrayLike) -> Array:
    """Return the emission as a radiance factor under D50, its peak 1, shape (m,)."""
    nm = np.asarray(wavelengths, dtype=np.float64)
    width = np.where(nm < _PEAK, _BELOW, _ABOVE)
    return np.asarray(np.exp(-0.5 * ((nm - _PEAK) / width) ** 2))


def glow(wavelengths: ArrayLike, condition: str) -> Array:
    """Return the emission as a radiance factor in a measuring condition, relative to M1's peak.

    β_t(λ) = β(λ) · S_D50(λ) / S_t(λ) · U_t / U_D50, with U the light's power weighted by the
    excitation, and lights scaled to equal luminance.

    Parameters
    ----------
    wavelengths
        Shape (m,), nm.
    condition
        "M0", "M1" or "M2".

    Returns
    -------
    Array of shape (m,).

    Raises
    ------
    ValueError
        For a condition that the simulated instrument has not.
    """
    if condition not in CONDITION_LIGHTS:
        known = ", ".join(CONDITION_LIGHTS)
        raise ValueError(f"the simulated instrument knows {known}, not '{condition}'")
    nm = np.asarray(wavelengths, dtype=np.float64)
    name = CONDITION_LIGHTS[condition]
    if name is None:
        return np.zeros_like(nm)
    own, standard = light(name), light("D50")
    excited = _power(own, EXCITATION_NM) @ EXCITATION
    excited_standard = _power(standard, EXCITATION_NM) @ EXCITATION
    seen = _power(standard, nm) / _power(own, nm)
    return np.asarray(emission(nm) * seen * (excited / excited_standard))


def _power(source: Light, wavelengths: Array) -> Array:
    """Return a light's power at some wavelengths, scaled to luminance 1."""
    luminance = source.power @ colour_matching_functions("2")[:, 1]
    power = np.interp(wavelengths, source.wavelengths, source.measured)
    return np.asarray(power / luminance)


@dataclass(frozen=True)
class Paper:
    """A paper, and how ink sits on it.

    Attributes
    ----------
    reflectance
        Reflectance factors of the bare paper without UV (M2), at `KNOTS`.
    brightener
        Radiance factor that its brightener adds at the emission's peak under D50 (M1).
    surface
        Reflectance factor of the surface alone, which no ink can take away.
    saturation
        Density that the ink layer cannot pass, however much ink there is.
    yields
        Density that this paper gets from each ink, as factors in the order of the inks.
    yule_nielsen
        The Yule-Nielsen factor n of its optical dot gain.
    wet
        How much stronger each ink is on a fresh print, as shares in the order of the inks.
    drying_hours
        Time constant of the dry-down, hours.
    """

    name: str
    reflectance: tuple[float, ...]
    brightener: float
    surface: float
    saturation: float
    yields: tuple[float, ...]
    yule_nielsen: float
    wet: tuple[float, ...]
    drying_hours: float


KNOTS = (360, 380, 400, 420, 440, 460, 480, 500, 550, 600, 650, 700, 730)
"""Wavelengths at which papers are tabulated, nm."""

# fmt: off
# Invented. Fibres without brightener absorb towards the blue, the more the less they were
# bleached. A baryta coating absorbs below 400 nm only. Matt surfaces scatter some 2 % of the
# light back whatever is printed, which is what limits their black; a glossy one ten times less.
_COTTON_RAG = Paper(
    name="cotton rag",
    reflectance=(.56, .68, .785, .838, .864, .880, .890, .897, .911, .919, .924, .928, .930),
    brightener=0.0,
    surface=0.0165,
    saturation=2.6,
    yields=(1.0, 1.0, 1.0, 1.0, 1.0, 1.0),
    yule_nielsen=2.0,
    wet=(.055, .040, .040, .050, .050, .045),
    drying_hours=0.9,
)
_BARYTA = Paper(
    name="baryta",
    reflectance=(.22, .46, .79, .880, .897, .903, .906, .909, .915, .919, .922, .925, .926),
    brightener=0.075,
    surface=0.0022,
    saturation=3.2,
    yields=(1.17, 1.14, 1.13, 1.15, 1.15, 1.15),
    yule_nielsen=1.7,
    wet=(.075, .050, .045, .050, .060, .055),
    drying_hours=2.4,
)
_UNBLEACHED_COTTON = Paper(
    name="unbleached cotton",
    reflectance=(.47, .59, .690, .752, .792, .820, .840, .855, .883, .900, .910, .916, .918),
    brightener=0.0,
    surface=0.0180,
    saturation=2.5,
    yields=(0.95, 0.98, 1.00, .97, .97, .97),
    yule_nielsen=2.1,
    wet=(.060, .040, .045, .050, .055, .050),
    drying_hours=1.1,
)
_KOZO = Paper(
    name="kozo",
    reflectance=(.36, .46, .560, .636, .690, .730, .762, .788, .835, .866, .884, .895, .899),
    brightener=0.0,
    surface=0.0205,
    saturation=2.3,
    yields=(0.95, 0.91, 0.89, .94, .94, .94),
    yule_nielsen=2.4,
    wet=(.065, .045, .050, .055, .060, .055),
    drying_hours=1.6,
)
# fmt: on

PAPERS: Mapping[str, Paper] = MappingProxyType(
    {paper.name: paper for paper in (_COTTON_RAG, _BARYTA, _UNBLEACHED_COTTON, _KOZO)}
)
"""Every paper by its kind."""


def paper_reflectance(paper: Paper, wavelengths: ArrayLike) -> Array:
    """Return the reflectance factors of bare paper without UV, shape (m,); wavelengths in nm."""
    from scipy.interpolate import PchipInterpolator

    nm = np.asarray(wavelengths, dtype=np.float64)
    return np.asarray(PchipInterpolator(KNOTS, paper.reflectance)(nm))
