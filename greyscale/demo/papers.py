"""Which papers the simulated printer prints on: invented substrates, called by their kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike


@dataclass(frozen=True)
class Paper:
    """A paper, and how ink sits on it.

    Attributes
    ----------
    name
        Its kind.
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
    """Give the reflectance factors of bare paper without UV, shape (m,); wavelengths in nm."""
    from scipy.interpolate import PchipInterpolator

    nm = np.asarray(wavelengths, dtype=np.float64)
    return np.asarray(PchipInterpolator(KNOTS, paper.reflectance)(nm))
