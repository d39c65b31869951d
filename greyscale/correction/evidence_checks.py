"""Whether readings can be solved from, and belong together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.nearest import same_name
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.differences import delta_E_2000
from greyscale.correction.evidence import NEAR, Evidence, Source
from greyscale.correction.printer_model import PrinterModel
from greyscale.readings.reading import AXIS_TOLERANCE, Reading
from greyscale.readings.repeats import average_repeats

FEWEST_TONES = 7
"""Tones of the ramp, paper and black included, that a tone curve can be made from."""

_FALL_SD = 6.0  # A fall of L* by so many standard deviations is no noise.
_LEAST_FALL = 0.8  # Nor is one by so many units of L*, however well the instrument repeats.
_CH_OF_NUDGE = 60.0  # About the ΔCh that moving one channel by 1 would make, if it were linear.
_CLEAR_SD = 6.0  # Near-neutral patches must stand out of the noise by so much.
_PAPERS_APART = 1.0  # ΔE00 between paper whites: another paper, or batch.
_READINGS_APART = 0.8  # CIELAB units by which one reading as a whole is off the others.


def check_reading(reading: Reading, *, through_correction: bool) -> None:
    """Refuse a reading that a correction cannot be solved from.

    Raises
    ------
    BadInput
        If white or black is missing, tones are too few, L* falls as the level rises, or
        near-neutral patches are too close to the axis.
    """
    averaged = average_repeats(reading)
    device, lab = averaged.reading.device, averaged.reading.lab
    source = reading.source
    if not np.any(np.all(device > 1 - AXIS_TOLERANCE, axis=1)):
        raise BadInput(
            "there is no patch of bare paper (level 1); measure one, every aim starts from it",
            source,
        )
    if not np.any(np.all(device < AXIS_TOLERANCE, axis=1)):
        raise BadInput(
            "there is no patch of full black (level 0); measure one, every aim ends at it", source
        )
    axis = averaged.reading.on_axis
    tones = int(axis.sum())
    if tones < FEWEST_TONES:
        raise BadInput(
            f"the ramp has {tones} tones; a correction needs at least {FEWEST_TONES}, "
            "and 21 or more are better",
            source,
        )
    if not through_correction:
        order = np.argsort(averaged.reading.level[axis])
        levels = averaged.reading.level[axis][order]
        _refuse_fall(levels, lab[axis][order, 0], averaged.repeatability.sd_L, source)
    _refuse_close_nudges(device, averaged.repeatability.sd_Ch, source)


def _refuse_fall(levels: Array, L: Array, sd: float, source: str) -> None:
    highest = np.maximum.accumulate(L)
    fall = highest - L
    worst = int(np.argmax(fall))
    if fall[worst] <= max(_FALL_SD * sd, _LEAST_FALL):
        return
    start = int(np.argmax(L[: worst + 1]))
    raise BadInput(
        f"L* falls from {L[start]:.1f} at level {levels[start]:.2f} to {L[worst]:.1f} at level "
        f"{levels[worst]:.2f}, where it should rise; check the order of the patches and the ink "
        "limit, then measure again",
        source,
    )


def _refuse_close_nudges(device: Array, sd: float, source: str) -> None:
    apart = np.ptp(device, axis=1)
    nudged = apart[(apart >= AXIS_TOLERANCE) & (apart <= NEAR)]
    if nudged.size and np.median(nudged) * _CH_OF_NUDGE < _CLEAR_SD * sd:
        raise BadInput(
            f"the near-neutral patches are nudged by only {np.median(nudged):.3f} of the range, "
            f"which can hardly be told from the noise (sd {sd:.2f}); print them with nudges of "
            "0.05 or more",
            source,
        )


def refuse_unlike(sources: Sequence[Source]) -> None:
    """Refuse readings that say they are of another print, or measured another way.

    Raises
    ------
    BadInput
        Naming what differs, and where.
    """
    for what in ("condition", "backing", "observer", "printer", "paper"):
        told = [(getattr(source, what), source) for source in sources if getattr(source, what)]
        for value, source in told[1:]:
            first, of = told[0]
            if not same_name(value, first):
                name = {"condition": "measuring condition"}.get(what, what)
                raise BadInput(
                    f"the {name} is '{value}', but that of '{of.name}' is '{first}'; readings of "
                    "unlike prints or conditions are not joined",
                    source.source,
                )


def refuse_unlike_papers(evidence: Evidence) -> None:
    """Refuse readings whose bare paper measures differently.

    Raises
    ------
    BadInput
        Naming the two readings and the difference.
    """
    bare = np.all(evidence.device > 1 - AXIS_TOLERANCE, axis=1)
    rows = np.flatnonzero(bare)
    for row in rows[1:]:
        apart = float(delta_E_2000(evidence.lab[rows[0]], evidence.lab[row]))
        if apart > _PAPERS_APART + 3 * evidence.sd_ab:
            one, other = (evidence.sources[evidence.origin[i]] for i in (rows[0], row))
            raise BadInput(
                f"the bare paper measures {apart:.1f} ΔE00 off that of '{one.name}'; another "
                "paper, another batch, or another backing? Leave one of the readings out",
                other.source,
            )


def refuse_contradiction(evidence: Evidence, model: PrinterModel) -> None:
    """Refuse readings that no one printer could have given.

    Raises
    ------
    BadInput
        Naming the reading that stands apart, and by how much.
    """
    if len(evidence.sources) < 2:
        return
    off = evidence.lab - model.lab(evidence.device)
    inked = ~np.all(evidence.device > 1 - AXIS_TOLERANCE, axis=1)
    means = []
    for number in range(len(evidence.sources)):
        own = inked & (evidence.origin == number)
        means.append(off[own].mean(axis=0) if own.any() else np.zeros(3))
    spread = np.ptp(np.array(means), axis=0)
    spread_of_patches = np.sqrt(np.mean(off[inked] ** 2, axis=0))
    if spread.max() <= _READINGS_APART and spread_of_patches.max() <= 5 * max(
        evidence.sd_L, evidence.sd_ab
    ):
        return
    axis = int(np.argmax(spread))
    name = ("L*", "a*", "b*")[axis]
    low, high = int(np.argmin([m[axis] for m in means])), int(np.argmax([m[axis] for m in means]))
    raise BadInput(
        f"it contradicts '{evidence.sources[low].name}': for the same values it measures "
        f"{spread[axis]:.1f} higher in {name} on average, far beyond the noise (sd "
        f"{evidence.sd_ab:.2f}); was one of the prints not dry, made on another paper, or not "
        "sent through the correction? Leave one of the readings out",
        evidence.sources[high].source,
    )
