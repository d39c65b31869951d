"""Charts for a correction: where patches tell most, and a chart sent through one to prove it."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from greyscale.analysis.response import LIGHTNESS, STEPS
from greyscale.base.errors import BadInput
from greyscale.base.results import filled
from greyscale.charts.chart import Through
from greyscale.charts.patches import DEFAULT_BITS, PatchList, Plan
from greyscale.colorimetry.arrays import Array, columns_at
from greyscale.correction.correct import correct
from greyscale.correction.evidence import sent_to_printer
from greyscale.correction.folder import read_correction
from greyscale.correction.record import Correction
from greyscale.printer.design import FEWEST_PATCHES, Design, Measured, design
from greyscale.printer.model import fit
from greyscale.readings.reading import Reading

# So many patches for a chart, where they tell most: beforehand, or after what was measured.

USUAL_PATCHES = 147
"""Patches of the usual chart with near-neutral ones, for comparison."""

MOST_PATCHES = 600


def measured_by(correction: Correction) -> Measured:
    """Return what a correction was made from, and what it sends."""
    evidence, curve = correction.evidence, correction.curve
    at = np.linspace(0.0, 1.0, 256)
    sent = columns_at(at, curve.levels, curve.rgb)
    return filled(Measured, evidence, model=correction.model or fit(evidence), sent=sent)


def choose_patches(count: int, after: Reading | None = None, bits: int = DEFAULT_BITS) -> Plan:
    """Choose so many patches, and say what to expect of them.

    Parameters
    ----------
    count
        How many, repeats counted in.
    after
        What was measured of the printer already.
    bits
        Device values are whole codes of so many bits.

    Raises
    ------
    BadInput
        For a number of patches that cannot be, or a printer that does not answer in colour.
    """
    fewest = FEWEST_PATCHES if after is None else 6
    if not fewest <= count <= MOST_PATCHES:
        raise BadInput(f"{count} patches are not possible; take {fewest} to {MOST_PATCHES}")
    if after is None:
        # Each next patch is chosen whatever the number: more of them begin with the same.
        made = design(max(count, USUAL_PATCHES), bits=bits)
        patches = made.patches.select(range(count))
        return Plan(patches, (_where(patches), *_expected(made, count)))
    before = correct([after])
    if before.evidence.response.kind in (LIGHTNESS, STEPS):
        raise BadInput(
            f"the printer answers in {before.evidence.response.kind}, so that a further chart "
            "cannot make its tint better",
            after.source,
        )
    known = measured_by(before)
    chosen = design(count, known, bits)
    left = chosen.mean_delta_Ch
    return Plan(
        chosen.patches,
        (
            _where(chosen.patches),
            "expected of a correction from both readings: a mean ΔCh of about "
            f"{left[-1]:.2f}, where the first alone leaves {left[0]:.2f}; {_STEPS_ADD}",
        ),
    )


_STEPS_ADD = "what a driver's steps and kinks add, only a reading tells"


def _where(patches: PatchList) -> str:
    kinds = patches.kinds()
    counts = {kind: kinds.count(kind) for kind in ("tone", "near-neutral", "repeat")}
    return (
        f"{counts['tone']} tones, {counts['near-neutral']} near-neutral patches and "
        f"{counts['repeat']} repeats, each where it tells most about the correction"
    )


def _expected(made: Design, count: int) -> tuple[str, ...]:
    left = made.mean_delta_Ch
    said = (
        f"expected of a correction from it: a mean ΔCh of about {left[count]:.2f} with "
        "an instrument that repeats to 0.15"
    )
    if count < USUAL_PATCHES:
        said += f" ({USUAL_PATCHES} patches would leave {left[USUAL_PATCHES]:.2f})"
    return (f"{said}; {_STEPS_ADD}",)


def chart_through(folder: Path | str) -> Through:
    """Return the correction in a folder as what a chart is sent through, near-neutral patches too.

    The values are in whole steps of the correction's bits, as those of a picture will be.

    Raises
    ------
    BadInput
        If there is no correction, or it is damaged.
    """
    correction = read_correction(folder)

    def apply(device: Array) -> Array:
        return sent_to_printer(device, correction, correction.bits)

    return Through(correction.title, apply)
