"""What happens to the ramp's neutrality under a light it may hang in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NeutralAim
from greyscale.analysis.casts import Cast
from greyscale.analysis.neutrality import Drift, drift, mean_over_lightness
from greyscale.analysis.ramp import Ramp
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.colorimetry.illuminant_change import colour_inconstancy, metamerism_index
from greyscale.colorimetry.lights import Light
from greyscale.colorimetry.tristimulus import grid_white_point, spectra_to_xyz

REFERENCE_LIGHT = "D50"
"""The light that print colorimetry is stated for (ISO 13655:2017)."""


@dataclass(frozen=True, eq=False)
class UnderLight:
    """A ramp under one light.

    Attributes
    ----------
    name
        The light's name.
    lab
        Shape (n, 3): CIELAB against the perfect diffuser under this light.
    relative_lab
        Shape (n, 3): CIELAB against the print's paper under this light.
    metamerism_index, metamerism_index_ab
        Shape (n,): special metamerism index, change from D50 to this light, against a flat
        grey, in CIEDE2000 and in ΔE*ab.
    colour_inconstancy
        Shape (n,): CIEDE2000 between D50 and this light, adaptation (CAT16) complete.
    drift
        The departure from the neutral aim, with paper and black under this light.
    mean_metamerism_index, max_metamerism_index
        Over the tones: mean over L*, and the largest.
    """

    name: str
    lab: Array
    relative_lab: Array
    metamerism_index: Array
    metamerism_index_ab: Array
    colour_inconstancy: Array
    drift: Drift
    mean_metamerism_index: float
    max_metamerism_index: float

    @property
    def mean_delta_Ch(self) -> float:
        """Mean over L* of the tones' ΔCh under this light."""
        return self.drift.mean_delta_Ch

    @property
    def max_delta_Ch(self) -> float:
        """The largest ΔCh of the tones under this light."""
        return self.drift.max_delta_Ch

    @property
    def casts(self) -> tuple[Cast, ...]:
        """The casts under this light, by rising level."""
        return self.drift.casts


def under_light(ramp: Ramp, light: Light, aim: NeutralAim = DEFAULT_NEUTRAL_AIM) -> UnderLight:
    """Look at a ramp under a light.

    Parameters
    ----------
    ramp
        A ramp with spectra.
    light
        The light.
    aim
        The neutral aim; its paper and black are those under this light.

    Raises
    ------
    ValueError
        If the ramp has no spectra.
    """
    reading = ramp.reading
    if reading.spectra is None or reading.wavelengths is None:
        raise ValueError("a reading without spectra has no colour under other lights")
    grid, observer = reading.wavelengths, reading.observer
    xyz = spectra_to_xyz(reading.spectra, grid, light, observer)
    white = grid_white_point(grid, light, observer)
    xyz_D50 = spectra_to_xyz(reading.spectra, grid, REFERENCE_LIGHT, observer)
    white_D50 = grid_white_point(grid, REFERENCE_LIGHT, observer)
    index = metamerism_index(xyz_D50, xyz, white_D50, white)
    lab = xyz_to_lab(xyz, white)
    tones = ramp.is_tone
    return UnderLight(
        name=light.name,
        lab=lab,
        relative_lab=xyz_to_lab(xyz, xyz[ramp.paper_index]),
        metamerism_index=index,
        metamerism_index_ab=metamerism_index(xyz_D50, xyz, white_D50, white, "ΔE*ab"),
        colour_inconstancy=colour_inconstancy(xyz_D50, xyz, white_D50, white),
        drift=drift(ramp, aim, light),
        mean_metamerism_index=mean_over_lightness(index[tones], lab[tones, 0]),
        max_metamerism_index=float(np.max(index[tones])),
    )
