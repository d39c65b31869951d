"""How much of a print is its paper's brightener: from M1 and M2, or the range it may lie in."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.analysis.ramp import Ramp, ramp_of
from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.colorimetry.fluorescence import EMISSION_PEAK, emission_curve
from greyscale.readings.reading import Reading

WITH_UV, WITHOUT_UV = "M1", "M2"
"""The measuring conditions that tell a brightener apart (ISO 13655:2017)."""

UNBRIGHTENED_B = 3.0
"""b* of a paper whose fibres are bleached but not brightened; common practice, no source."""

STRONGEST_DELTA_B = -8.0
"""Δb* of M1 against M2 of the strongest brightened papers; common practice, no source."""

_CONDITION_WORD = re.compile(
    r"(?<![\s,_(\[-])[\s,_(\[-]*(?<![^\W_])M[0-3](?![^\W_])[)\]]?", re.IGNORECASE
)


@dataclass(frozen=True, eq=False)
class Print:
    """A print's ramp, taken apart into what it reflects and what it glows.

    Attributes
    ----------
    name
        What to call it.
    ramp
        The ramp as read: in M1 where there is one.
    base
        Shape (n, m): reflectance factors without the glow, as far as it is known.
    glow
        Shape (n, m): what the brightener adds under D50, β = M1 - M2; zero where not known.
    most
        Shape (n, m): the most that it may add under D50; `glow` where that is known.
    known
        Whether both M1 and M2 were read.
    delta_b
        Brightener figure: Δb* of M1 against M2 on bare paper, D50; None where not known.
    """

    name: str
    ramp: Ramp
    base: Array
    glow: Array
    most: Array
    known: bool
    delta_b: float | None

    @property
    def wavelengths(self) -> Array:
        """Wavelengths of `base` and `glow`, shape (m,), nm."""
        assert self.ramp.reading.wavelengths is not None
        return self.ramp.reading.wavelengths


def prints_of(readings: Sequence[Reading]) -> tuple[Print, ...]:
    """Make prints of readings; readings of one chart in M1 and M2 make one print.

    They belong together by what they say of printer, paper and settings, and by their name
    without the condition's.

    Raises
    ------
    BadInput
        For a reading without spectra, two readings of one print in the same condition, or M1
        and M2 of unlike ramps.
    """
    groups: dict[tuple[str, ...], dict[str, Reading]] = {}
    for reading in readings:
        if not reading.spectral:
            raise BadInput(
                "holds no spectra, so nothing can be said about other lights; measure again with "
                "an instrument that gives spectra",
                reading.source,
            )
        conditions = groups.setdefault(_belonging(reading), {})
        own = reading.condition or ""
        if own in conditions:
            raise BadInput(
                f"is a second reading of '{reading.name}' in the same condition, beside "
                f"{conditions[own].source}; give each paper once, or name them apart",
                reading.source,
            )
        conditions[own] = reading
    prints: list[Print] = []
    for conditions in groups.values():
        if WITH_UV in conditions and WITHOUT_UV in conditions:
            both = conditions.pop(WITH_UV), conditions.pop(WITHOUT_UV)
            prints.append(_known(*both))
        prints.extend(_single(reading) for reading in conditions.values())
    return tuple(prints)


def _belonging(reading: Reading) -> tuple[str, ...]:
    described = (reading.printer, reading.paper, reading.settings)
    return (*(part or "" for part in described), plain_name(reading.name))


def plain_name(name: str) -> str:
    """Give a reading's name without the measuring condition in it.

    Examples
    --------
    >>> plain_name("cotton rag, M1"), plain_name("baryta_M2"), plain_name("M1")
    ('cotton rag', 'baryta', 'M1')
    """
    return _CONDITION_WORD.sub("", name).strip() or name


def _known(with_uv: Reading, without_uv: Reading) -> Print:
    ramp, other = ramp_of(with_uv), ramp_of(without_uv)
    first, second = ramp.reading, other.reading
    alike = (
        np.array_equal(first.wavelengths, second.wavelengths)  # type: ignore[arg-type]
        and len(first) == len(second)
        and np.allclose(ramp.level, other.level, atol=1e-4)
    )
    if not alike or first.spectra is None or second.spectra is None:
        raise BadInput(
            f"and {with_uv.source} are readings in {WITHOUT_UV} and {WITH_UV} of unlike ramps or "
            "wavelengths; both must be of the same chart",
            without_uv.source,
        )
    glow = first.spectra - second.spectra
    paper = ramp.paper_index
    delta_b = float(ramp.lab()[paper, 2] - second.lab[paper, 2])
    name = plain_name(with_uv.name)
    return Print(name, ramp, second.spectra, glow, glow, True, delta_b)


def _single(reading: Reading) -> Print:
    ramp = ramp_of(reading)
    spectra = ramp.reading.spectra
    assert spectra is not None
    own = Print(
        plain_name(reading.name), ramp, spectra, np.zeros_like(spectra), spectra, False, None
    )
    return replace(own, most=_most_glow(own, reading.condition))


def _most_glow(own: Print, condition: str | None) -> Array:
    """Give the most that a brightener may add under D50, where one condition was read.

    A reading with UV holds the glow already; its fibres alone are hardly yellower than
    `UNBRIGHTENED_B`. A reading without UV shows the fibres; the strongest brightener adds
    `STRONGEST_DELTA_B`. Ink lets the ultraviolet in and the glow out, each by its transmittance.
    """
    paper = own.base[own.ramp.paper_index]
    nm = own.wavelengths
    emission = emission_curve(nm)
    b = float(spectra_to_lab(paper, nm)[2])
    step = 0.01
    slope = (float(spectra_to_lab(paper + step * emission, nm)[2]) - b) / step
    if condition == WITHOUT_UV:
        strength = STRONGEST_DELTA_B / slope
    else:
        strength = max(0.0, (b - UNBRIGHTENED_B) / slope)
    relative = own.base / np.maximum(paper, 1e-6)
    through = relative[:, 0] * relative[:, int(np.argmin(np.abs(nm - EMISSION_PEAK)))]
    return np.asarray(strength * through[:, np.newaxis] * emission)
