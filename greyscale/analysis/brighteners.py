"""How much of a print is its paper's brightener: from M1 and M2, or the range it may lie in."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.analysis.ramp import Ramp, ramp_of
from greyscale.base.errors import BadInput, name_key
from greyscale.colorimetry.arrays import Array, Mask
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.colorimetry.fluorescence import EMISSION_PEAK, emission_curve
from greyscale.readings.reading import Reading, average_repeats

WITH_UV, WITHOUT_UV = "M1", "M2"
"""The measuring conditions that tell a brightener apart (ISO 13655:2017)."""

UNBRIGHTENED_B = 3.0
"""b* of a paper whose fibres are bleached but not brightened; common practice, no source."""

RISING_FROM = 400.0
"""Wavelength, nm, where unbrightened fibres and coatings reflect no more than at 440 nm; common
practice, no source."""

STRONGEST_DELTA_B = -8.0
"""Δb* of M1 against M2 of the strongest brightened papers; common practice, no source."""

PASSING = 1.0, 0.8, 2.0
"""Density of ink on the glow's way in and out, in parts of what it has where it was read: as it is,
and by inks that are clearer and denser in the ultraviolet; common practice, no source."""

GLOW_ORDER = 4
"""Order of the polynomial in L* that tells what greys glow: smooth, and near to the cube of L*."""

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
        Shape (c, n, m): the most that it may add under D50, in c cases of how much of it the ink
        lets pass; `glow` alone where that is known.
    known
        Whether both M1 and M2 were read.
    delta_b
        Brightener figure: Δb* of M1 against M2 on bare paper, D50; None where not known.
    sd
        Standard deviation of a* and b* where a print is predicted, and not read: shape (n,), or 0.
    """

    name: str
    ramp: Ramp
    base: Array
    glow: Array
    most: Array
    known: bool
    delta_b: float | None
    sd: Array | float = 0.0

    @property
    def counts(self) -> Mask:
        """Which patches means are over, shape (n,): the tones.

        Where they are predicted, up to the paper, as a correction has it: tones near to it, that
        were not read, are corrected too.
        """
        found = self.ramp.is_tone
        found[self.ramp.paper_index] = np.any(self.sd)
        return found

    @property
    def wavelengths(self) -> Array:
        """Wavelengths of `base` and `glow`, shape (m,), nm."""
        assert self.ramp.reading.wavelengths is not None
        return self.ramp.reading.wavelengths


def prints_of(readings: Sequence[Reading]) -> tuple[Print, ...]:
    """Make prints of readings; readings of one chart in M1 and M2 make one print.

    They belong together by what they say of printer, paper and settings, and by their name
    without the condition's. Prints that all tell their paper, each another, are called by it.

    Raises
    ------
    BadInput
        For a reading without spectra, two readings of one print in the same condition, or M1
        and M2 of unlike ramps.
    """
    groups: dict[tuple[str, ...], dict[str, Reading]] = {}
    for reading in with_glow(readings, by_name=True):
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
                f"tells of '{reading.name}' as {conditions[own].source} does, in the same "
                "condition; give each paper once, or name them apart",
                reading.source,
            )
        conditions[own] = reading
    prints: list[Print] = []
    for conditions in groups.values():
        if WITH_UV in conditions and WITHOUT_UV in conditions:
            both = conditions.pop(WITH_UV), conditions.pop(WITHOUT_UV)
            prints.append(_known(*both))
        prints.extend(print_of(ramp_of(reading)) for reading in conditions.values())
    papers = [one.ramp.reading.paper or "" for one in prints]
    if all(papers) and len(set(map(name_key, papers))) == len(papers):
        return tuple(replace(one, name=paper) for one, paper in zip(prints, papers, strict=True))
    return tuple(prints)


def with_glow(readings: Sequence[Reading], *, by_name: bool = False) -> list[Reading]:
    """Return readings, those of one chart in M1 and M2 as one: in M1, with its glow known.

    They belong together where their device values, wavelengths and what they tell of printer,
    paper and settings are the same. All other readings stay as they are.

    Parameters
    ----------
    by_name
        Whether their names, without the condition's, must be the same too: where there are
        readings of several papers, which may not say their paper.
    """
    joined = list(readings)
    for second in readings:
        if second.condition != WITHOUT_UV:
            continue
        partner = next(
            (one for one in joined
             if _is_of_one_chart(one, second)
             and not (by_name and _belonging(one) != _belonging(second))),
            None,
        )  # fmt: skip
        if partner is not None:
            joined = [one for one in joined if one is not second]
            glow = _more_than(partner, second)
            joined[joined.index(partner)] = replace(
                partner, glow=glow, glow_source=second.source, glow_sha256=second.sha256
            )
    return joined


def glow_by_lightness(reading: Reading, L: Array, glow: Array) -> Reading:
    """Return a reading in M1 that takes its glow from patches of the same paper, printed alike.

    Ink that lets as much light through lets as much ultraviolet in and as much of the glow out.

    Parameters
    ----------
    L, glow
        Shapes (k,) and (k, m): L* of patches, and what they glow.
    """
    near = np.vander(L / 100.0, GLOW_ORDER + 1)
    wanted = np.vander(reading.lab[:, 0] / 100.0, GLOW_ORDER + 1)
    fitted = np.linalg.lstsq(near, glow, rcond=None)[0]
    return replace(reading, glow=np.asarray(wanted @ fitted))


def supposed_glow(reading: Reading) -> Reading:
    """Return a reading of one condition with half of the most that its paper's brightener may add.

    Without ultraviolet (M2), without spectra and of unbrightened paper it stays as it is.
    """
    if reading.spectra is None or reading.wavelengths is None or reading.condition == WITHOUT_UV:
        return reading
    paper = reading.spectra[int(np.argmax(reading.lab[:, 0]))]
    most = most_glow(reading.spectra, paper, reading.wavelengths, reading.condition)
    return replace(reading, glow=most[0] / 2) if most.any() else reading


def otherwise_passing(supposed: Array) -> list[Array]:
    """What patches may glow, by `PASSING`, instead of what is supposed of them; (n, m) each.

    Parameters
    ----------
    supposed
        Shape (n, m): as `supposed_glow` has it, bare paper among them.
    """
    total = supposed.sum(axis=1, keepdims=True)
    passing = total / total.max()
    # Of a patch that lets nothing pass, nothing glows, whatever the power.
    some = np.where(passing > 0, passing, 1.0)
    return [supposed * some ** (power - PASSING[0]) for power in PASSING[1:]]


def _is_of_one_chart(one: Reading, second: Reading) -> bool:
    alike = (
        one.condition == WITH_UV
        and one.glow is None
        and one.wavelengths is not None
        and np.array_equal(one.wavelengths, second.wavelengths)  # type: ignore[arg-type]
        and (one.printer, one.paper, one.settings)
        == (second.printer, second.paper, second.settings)
    )
    if not alike:
        return False
    return set(map(tuple, _keys(one))) == set(map(tuple, _keys(second)))


def _keys(reading: Reading) -> Array:
    return np.round(reading.device, 6)


def _more_than(one: Reading, second: Reading) -> Array:
    """What the patches of a reading measure more than the same ones do in the second, (n, m)."""
    means = [average_repeats(reading).reading for reading in (one, second)]
    rows = [{tuple(key): row for row, key in enumerate(_keys(mean))} for mean in means]
    by_M1, by_M2 = (np.array([of[tuple(key)] for key in _keys(one)]) for of in rows)
    first, other = means[0].spectra, means[1].spectra
    assert first is not None
    assert other is not None
    return np.asarray(first[by_M1] - other[by_M2])


def _most_by_shape(paper: Array, nm: Array, emission: Array) -> float:
    """The most that can be taken off a paper's spectrum that leaves it rising to the peak."""
    peak, short = (int(np.argmin(np.abs(nm - at))) for at in (EMISSION_PEAK, RISING_FROM))
    rise = (paper[peak] - paper[short]) / (emission[peak] - emission[short])
    return float(max(rise, 0.0))


def _belonging(reading: Reading) -> tuple[str, ...]:
    described = (reading.printer, reading.paper, reading.settings)
    return (*(part or "" for part in described), plain_name(reading.name))


def plain_name(name: str) -> str:
    """Return a reading's name without the measuring condition in it.

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
    return Print(name, ramp, second.spectra, glow, glow[np.newaxis], True, delta_b)


def print_of(ramp: Ramp) -> Print:
    """Return the print of a ramp with spectra, its glow as the reading knows it."""
    reading = ramp.reading
    spectra, grid = reading.spectra, reading.wavelengths
    assert spectra is not None
    assert grid is not None
    name = plain_name(reading.name)
    if reading.glow is not None:
        base = spectra - reading.glow
        delta = spectra_to_lab(np.stack([spectra, base])[:, ramp.paper_index], grid)[:, 2]
        glow = reading.glow
        return Print(name, ramp, base, glow, glow[np.newaxis], True, float(delta[0] - delta[1]))
    most = most_glow(spectra, spectra[ramp.paper_index], grid, reading.condition)
    return Print(name, ramp, spectra, np.zeros_like(spectra), most, False, None)


def most_glow(spectra: Array, paper: Array, wavelengths: Array, condition: str | None) -> Array:
    """Return the most that a brightener may add under D50, where one condition was read; (3, n, m).

    Parameters
    ----------
    spectra, paper
        Shapes (n, m) and (m,): reflectance factors of patches, and of bare paper.
    wavelengths
        Shape (m,), nm.
    condition
        Which one was read.

    A reading with UV holds the glow already; its fibres alone are hardly yellower than
    `UNBRIGHTENED_B`, and reflect no less at the emission's peak than at `RISING_FROM`. A reading
    without UV shows the fibres; the strongest brightener adds `STRONGEST_DELTA_B`.

    What ink reflects light has passed twice, in and out; the ultraviolet passes it once, and the
    glow once, each by the root of that: the first case. The mean over dots and bare paper is so
    too where the paper scatters light from anywhere to anywhere (Yule and Nielsen, n = 2), and
    where dots are opaque. How much ink keeps back of ultraviolet shorter than what was read is not
    known, and a print's surface reflects what passed no ink: the other cases are `PASSING`.
    """
    nm = wavelengths
    emission = emission_curve(nm)
    step = 0.01
    b, more = spectra_to_lab(np.stack([paper, paper + step * emission]), nm)[:, 2].tolist()
    slope = (more - b) / step
    if condition == WITHOUT_UV:
        strength = STRONGEST_DELTA_B / slope
    else:
        strength = min(max(0.0, (b - UNBRIGHTENED_B) / slope), _most_by_shape(paper, nm, emission))
    relative = spectra / np.maximum(paper, 1e-6)
    through = relative[:, 0] * relative[:, int(np.argmin(np.abs(nm - EMISSION_PEAK)))]
    passing = np.maximum(through, 0.0) ** (np.array([PASSING]).T / 2)
    return np.asarray(strength * passing[..., np.newaxis] * emission)
