"""How every tone of a scale prints on one paper, as it looks under one light."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from greyscale.aims.neutral import NeutralAim, neutral_aim
from greyscale.aims.tone import ToneAim
from greyscale.analysis.neutrality import Cast, drift, find_casts, to_be_named
from greyscale.analysis.ramp import Ramp, ramp_of
from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array, columns_at
from greyscale.colorimetry.cielab import chroma
from greyscale.colorimetry.lights import REFERENCE_LIGHT, Light
from greyscale.readings.reading import Reading

STEPS = 4097
"""Levels at which a scale is known: finer than any picture is looked at."""

NEAR = 0.25
"""Patches whose channels lie farther apart than this, 0 to 1, tell nothing of greys."""

LEAST_NEAR = 6
"""Near-neutral patches from which on they tell how a tint changes with the light."""


@dataclass(frozen=True, eq=False)
class PrintedTones:
    """A scale of tones as it prints, by rising level.

    Attributes
    ----------
    levels
        Shape (n,): from 0 to 1, evenly.
    lab
        Shape (n, 3): CIELAB under the light, against its own white.
    aim_ab
        Shape (n, 2): the neutral aim at each L*.
    casts
        The casts along the scale, by rising level.
    measured
        Shape (m,): the levels that were measured.
    """

    levels: Array
    lab: Array
    aim_ab: Array
    casts: tuple[Cast, ...]
    measured: Array

    @property
    def delta_Ch(self) -> Array:
        """ΔCh of each, shape (n,)."""
        return chroma(self.lab[:, 1:] - self.aim_ab)

    def exaggerated(self, factor: float) -> PrintedTones:
        """Return the same with its distance from the neutral aim multiplied; L* stays."""
        ab = self.aim_ab + factor * (self.lab[:, 1:] - self.aim_ab)
        return replace(self, lab=np.column_stack([self.lab[:, 0], ab]))

    def delta_L(self, tone: ToneAim, scaling: str) -> Array:
        """Return L* of each less the tone aim between its own black and paper, shape (n,)."""
        return np.asarray(self.lab[:, 0] - self._aim_L(tone, scaling))

    def aimed(self, tone: ToneAim, scaling: str) -> PrintedTones:
        """Return the tones as they are aimed at, between the print's own black and paper."""
        L = self._aim_L(tone, scaling)
        order = np.argsort(self.lab[:, 0], kind="stable")
        known, aims = self.lab[order, 0], self.aim_ab[order]
        aim_ab = columns_at(L, known, aims)
        return replace(self, lab=np.column_stack([L, aim_ab]), aim_ab=aim_ab, casts=())

    def _aim_L(self, tone: ToneAim, scaling: str) -> Array:
        L = self.lab[:, 0]
        return tone.target(self.levels, float(L.min()), float(L.max()), scaling)


def printed_tones(reading: Reading, light: Light, neutral: NeutralAim) -> PrintedTones:
    """Return how tones print that are sent as they are.

    Between the measured tones the scale is smooth and turns back nowhere that they do not: a
    piecewise cubic after Fritsch and Carlson (1980). Beyond them it is held.

    Raises
    ------
    BadInput
        If the reading has no ramp, or no spectra for another light than that of its CIELAB.
    """
    ramp = ramp_of(reading)
    other = None if light.name == _light_of(reading) else light
    if other is not None and not reading.spectral:
        raise BadInput(
            f"holds CIELAB under {REFERENCE_LIGHT} and no spectra, so the print cannot be shown "
            f"under {light.name}; leave the light out, or measure spectra",
            reading.source,
        )
    lab = ramp.lab(other)
    levels = np.linspace(0.0, 1.0, STEPS)
    scale = smooth_scale(ramp.level, lab, levels)
    return PrintedTones(
        levels=levels,
        lab=scale,
        aim_ab=neutral_aim(neutral, scale[:, 0], lab[ramp.paper_index], lab[ramp.black_index]),
        casts=to_be_named(drift(ramp, neutral, other).casts),
        measured=np.sort(ramp.level),
    )


def corrected_tones(
    reading: Reading,
    light: Light,
    neutral: NeutralAim,
    levels: Array,
    predicted: Array,
) -> PrintedTones:
    """Return how tones print that go through a correction, as it predicts.

    The prediction is for the light of the reading's CIELAB. Under another light a tone moves as the
    measured grey of the same L* does; and what parts the two in a*, b* becomes what it becomes for
    the near-neutral patches of the reading, or stays, where it has none.

    Parameters
    ----------
    reading
        Of the uncorrected ramp.
    levels, predicted
        Shapes (n,) and (n, 3): the correction's levels and the CIELAB that it predicts.
    """
    before = printed_tones(reading, light, neutral)
    wanted = columns_at(before.levels, levels, predicted)
    ramp = ramp_of(reading)
    if light.name != _light_of(reading):
        wanted = _under_light(wanted, reading, ramp, light)
    aim_ab = neutral_aim(neutral, wanted[:, 0], wanted[-1], wanted[0])
    return replace(
        before,
        lab=wanted,
        aim_ab=aim_ab,
        casts=_casts(ramp, before.levels, wanted[:, 1:] - aim_ab),
    )


def _light_of(reading: Reading) -> str:
    return REFERENCE_LIGHT if reading.light is None else reading.light.name


def smooth_scale(level: Array, lab: Array, levels: Array) -> Array:
    """Return a ramp's CIELAB at other levels, without overshoot between the measured tones."""
    from scipy.interpolate import PchipInterpolator

    order = np.argsort(level)
    curve = PchipInterpolator(level[order], lab[order])
    return np.asarray(curve(np.clip(levels, level.min(), level.max())), dtype=np.float64)


def _under_light(lab: Array, reading: Reading, ramp: Ramp, light: Light) -> Array:
    """Return what tones near grey, CIELAB as the reading's, shape (n, 3), become under a light."""
    levels = np.linspace(0.0, 1.0, STEPS)
    greys = [smooth_scale(ramp.level, ramp.lab(one), levels) for one in (None, light)]

    def beside_grey(tones: Array) -> tuple[Array, Array]:
        """Return a*, b* less those of the grey of the same L*, and that grey under the light."""
        rising = np.maximum.accumulate(greys[0][:, 0])
        same = [columns_at(tones[:, 0], rising, grey) for grey in greys]
        return tones[:, 1:] - same[0][:, 1:], same[1]

    rows = ~reading.on_axis & (np.ptp(reading.device, axis=1) <= NEAR)
    becomes = np.eye(3)[1:]
    if rows.sum() >= LEAST_NEAR:
        distance, grey = beside_grey(reading.lab[rows])
        moved = reading.select(rows).lab_under(light) - grey
        becomes = np.asarray(np.linalg.lstsq(distance, moved, rcond=None)[0], dtype=np.float64)
    distance, grey = beside_grey(lab)
    return np.asarray(grey + distance @ becomes)


def _casts(ramp: Ramp, levels: Array, delta_ab: Array) -> tuple[Cast, ...]:
    """Find casts of a scale at the tones that were measured, paper and black left out."""
    tones = ramp.level[ramp.is_tone]
    delta = columns_at(tones, levels, delta_ab)
    return find_casts(tones, delta, np.zeros(tones.size, dtype=bool), ramp.repeatability.sd_Ch)
