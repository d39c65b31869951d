"""What happens to the ramp's neutrality under a light it may hang in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NeutralAim
from greyscale.aims.tone import DEFAULT_SCALING, DEFAULT_TONE_AIM, tone_aim
from greyscale.analysis.brighteners import WITHOUT_UV, Print, print_of
from greyscale.analysis.casts import Cast
from greyscale.analysis.neutrality import Drift, drift, mean_over_lightness
from greyscale.analysis.print_under_lights import UnderLights
from greyscale.analysis.ramp import Ramp
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.colorimetry.fluorescence import credible_excitation, print_to_xyz
from greyscale.colorimetry.illuminant_change import colour_inconstancy, metamerism_index
from greyscale.colorimetry.lights import Light
from greyscale.colorimetry.tristimulus import grid_white_point, spectra_to_xyz

SEEN = 0.5
"""A range of mean ΔCh as wide as this is seen side by side: no one figure stands for it (common
practice, no source)."""

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
    low, high
        Least and largest mean ΔCh, over what is not known of brightener and lamp.
    paper_b
        Least and largest b* of the paper, likewise.
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
    low: float
    high: float
    paper_b: tuple[float, float]

    @property
    def told(self) -> bool:
        """Whether what is not known of the brightener makes no difference that is seen."""
        return self.high - self.low < SEEN

    @property
    def paper_b_words(self) -> str:
        """The range of the paper's b* in words."""
        return f"{self.paper_b[0]:+.1f} and {self.paper_b[1]:+.1f}".replace("-", "−")

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


def under_lights(
    ramp: Ramp, lights: Sequence[Light], aim: NeutralAim = DEFAULT_NEUTRAL_AIM
) -> tuple[UnderLight, ...]:
    """Look at a ramp under lights, what is not known of its brightener allowed for."""
    own = print_of(ramp)
    # Without ultraviolet it is what was read; behind glass that stops it, prints hang so.
    glows = own.most.any() and ramp.reading.condition != WITHOUT_UV
    found = [under_light(ramp, one, aim) for one in lights]
    if not glows or not lights:
        return tuple(found)
    look = UnderLights(
        own, lights, aim, tone_aim(DEFAULT_TONE_AIM), DEFAULT_SCALING, ramp.reading.observer
    )
    return tuple(
        one
        if one.name == REFERENCE_LIGHT
        else replace(one, low=float(low), high=float(high), paper_b=_paper_b(own, light))
        for one, light, low, high in zip(
            found, lights, look.brightener_low, look.brightener_high, strict=True
        )
    )


def _paper_b(own: Print, light: Light) -> tuple[float, float]:
    """Return the least and the largest b* of paper: nothing or the most glows, of nothing or all.

    That is, by what may excite it.
    """
    paper, observer = own.ramp.paper_index, own.ramp.reading.observer
    base, glow = own.base[paper], own.most[paper]
    white = grid_white_point(own.wavelengths, light, observer)
    cases = [(base, glow)] if own.known else [(base, 0 * glow), (base - glow, glow)]
    b = [
        float(xyz_to_lab(print_to_xyz(*case, own.wavelengths, light, observer, excites=excites),
                         white)[2])
        for case in cases
        for excites in credible_excitation(light)
    ]  # fmt: skip
    return min(b), max(b)


def under_light(ramp: Ramp, light: Light, aim: NeutralAim = DEFAULT_NEUTRAL_AIM) -> UnderLight:
    """Look at a ramp under a light.

    Parameters
    ----------
    ramp
        A ramp with spectra; what it glows, where it knows, by what the light excites.
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
    xyz = reading.xyz_under(light)
    white = grid_white_point(grid, light, observer)
    xyz_D50 = spectra_to_xyz(reading.spectra, grid, REFERENCE_LIGHT, observer)
    white_D50 = grid_white_point(grid, REFERENCE_LIGHT, observer)
    index = metamerism_index(xyz_D50, xyz, white_D50, white)
    lab = xyz_to_lab(xyz, white)
    tones = ramp.is_tone
    found = drift(ramp, aim, light)
    paper_b = float(lab[ramp.paper_index, 2])
    return UnderLight(
        name=light.name,
        lab=lab,
        relative_lab=xyz_to_lab(xyz, xyz[ramp.paper_index]),
        metamerism_index=index,
        metamerism_index_ab=metamerism_index(xyz_D50, xyz, white_D50, white, "ΔE*ab"),
        colour_inconstancy=colour_inconstancy(xyz_D50, xyz, white_D50, white),
        drift=found,
        mean_metamerism_index=mean_over_lightness(index[tones], lab[tones, 0]),
        max_metamerism_index=float(np.max(index[tones])),
        low=found.mean_delta_Ch,
        high=found.mean_delta_Ch,
        paper_b=(paper_b, paper_b),
    )
