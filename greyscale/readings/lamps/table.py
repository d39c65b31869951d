"""Whether a measured lamp can be used, and the light it makes."""

from __future__ import annotations

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.lights import Light, interpolate_power

NEEDED = (400.0, 700.0)
"""A lamp must be measured over these wavelengths, nm; beyond them eyes hardly answer."""
WANTED = (380.0, 730.0)
"""A lamp that was measured over less than this gets a remark."""
COARSEST = 20.0
"""Steps above this, nm, cannot carry a lamp's lines."""
FINE = 10.0
"""Steps above this, nm, get a remark."""
WIDEST_GAP = 30.0
"""A gap wider than this, nm, and than three of the usual steps, is a hole."""
NOISE_FLOOR = 0.005
"""Negative power down to this share of the peak is an instrument's noise, and set to nothing."""


def lamp(name: str, wavelengths: Array, power: Array, source: str) -> Light:
    """Make a light of a lamp's table.

    Parameters
    ----------
    name
        What to call the light.
    wavelengths, power
        Shape (n,): nm, in any order; power in any unit, as dimming changes nothing.
    source
        The file, for messages.

    Raises
    ------
    BadInput
        If the table has holes, is cut off, too coarse, or not a spectrum at all.
    """
    order = np.argsort(wavelengths, kind="stable")
    wavelengths, power = wavelengths[order], power[order]
    _check_numbers(wavelengths, power, source)
    remarks = [*_check_coverage(wavelengths, source), *_check_steps(wavelengths, source)]
    if power.min() < 0:
        remarks.append("slightly negative power, an instrument's noise, was set to zero")
        power = np.maximum(power, 0.0)
    steps = np.diff(wavelengths)
    # A table in even steps of 3 nm or more is a sampled curve, as the CIE's are; finer or
    # uneven ones follow the lamp's lines themselves, and a spline would swing between them.
    splined = np.ptp(steps) < 0.1 and steps.mean() >= 3.0
    relative = power / power.max()
    full = interpolate_power(wavelengths, relative, linear=not splined)
    return Light(name, full, wavelengths, relative, tuple(remarks), rests_on=("measured-lamp",))


def _check_numbers(wavelengths: Array, power: Array, source: str) -> None:
    if wavelengths.size < 4:
        raise BadInput(
            f"holds {wavelengths.size} wavelengths; a lamp needs its whole spectrum", source
        )
    if not (np.all(np.isfinite(wavelengths)) and np.all(np.isfinite(power))):
        raise BadInput("holds a value that is not a number; export the lamp again", source)
    twice = wavelengths[1:][np.diff(wavelengths) <= 0]
    if twice.size:
        raise BadInput(f"holds {twice[0]:g} nm twice; keep one of them", source)
    if power.max() <= 0:
        raise BadInput("holds no power at all; was the lamp lit?", source)
    if power.min() < -NOISE_FLOOR * power.max():
        at = wavelengths[np.argmin(power)]
        raise BadInput(
            f"holds negative power at {at:g} nm, beyond an instrument's noise; "
            "measure the lamp again, with its dark reading",
            source,
        )


def _check_coverage(wavelengths: Array, source: str) -> list[str]:
    first, last = wavelengths[0], wavelengths[-1]
    if first > NEEDED[0] or last < NEEDED[1]:
        raise BadInput(
            f"is cut off: it holds {first:g} to {last:g} nm; "
            f"a lamp is needed from {NEEDED[0]:g} to {NEEDED[1]:g} nm at least",
            source,
        )
    if first > WANTED[0] or last < WANTED[1]:
        return [
            f"the lamp was measured from {first:g} to {last:g} nm; "
            "beyond that it is taken to give no light"
        ]
    return []


def _check_steps(wavelengths: Array, source: str) -> list[str]:
    steps = np.diff(wavelengths)
    visible = steps[(wavelengths[:-1] >= NEEDED[0] - COARSEST) & (wavelengths[1:] <= NEEDED[1])]
    usual = float(np.median(visible))
    if usual > COARSEST:
        raise BadInput(
            f"is too coarse: one value every {usual:g} nm; "
            f"measure the lamp in steps of {FINE:g} nm or less",
            source,
        )
    seen = (wavelengths[:-1] < NEEDED[1]) & (wavelengths[1:] > NEEDED[0])
    widest = int(np.argmax(np.where(seen, steps, 0.0)))
    if steps[widest] > max(WIDEST_GAP, 3 * usual):
        raise BadInput(
            f"has a gap between {wavelengths[widest]:g} and {wavelengths[widest + 1]:g} nm; "
            "export the whole spectrum",
            source,
        )
    if usual > FINE:
        return [f"the lamp has one value every {usual:g} nm; narrow lines may be missed"]
    return []
