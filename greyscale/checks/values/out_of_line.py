"""Does a single patch depart from its neighbours in tone: read across its edge, or spoilt?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from greyscale.checks.case import Case
from greyscale.checks.evidence import bare_paper
from greyscale.checks.explanations.unexplained import STRIP_KIND
from greyscale.checks.finding import Finding, SpoiltPatch
from greyscale.checks.search import Explanation
from greyscale.checks.smoothness import noise_of_repeats
from greyscale.checks.spoilt import spoilt_patches
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import lab_to_xyz, xyz_to_lab
from greyscale.colorimetry.differences import delta_E_ab

EDGE_KIND = "patch read across its edge"
KIND = "patch out of line"

_LEAST = 1.0  # ΔE*ab from what is expected under which nothing is said.
_TIMES = 6.5  # The same, in standard deviations of one measurement,
_LEAST_SD = 5.0  # and in standard deviations of the expectation.
_SHARES = np.linspace(0.02, 0.6, 59)  # Of the neighbour in what the instrument saw.
_FIT = 11.0  # Squared departure from a mixture, in variances over three values, that still fits.
_UNLIKE = 5.0  # ΔE*ab by which what lies beside a patch must differ to be told from noise.
_D50 = np.array([96.42, 100.0, 82.51])


@dataclass(frozen=True)
class Mixture:
    """What a spoilt value may be made of.

    Attributes
    ----------
    neighbour
        The other area that the instrument saw.
    share
        Its share of what the instrument saw.
    """

    neighbour: str
    share: float


def findings(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Judge each value that the search had to set aside, strips that do not fit left out."""
    named = {name for finding in explanation.findings for name in finding.ids}
    named |= {case.ids[slot] for slot in explanation.set_aside}
    yield from _left_out(case, explanation, named)
    in_strips = {name for f in explanation.findings if f.kind == STRIP_KIND for name in f.ids}
    slots = [slot for slot in explanation.set_aside if case.ids[slot] not in in_strips]
    if not slots:
        return
    measured_slots = np.flatnonzero(explanation.rows >= 0)
    all_lab = case.reading.lab[explanation.rows[measured_slots]]
    least = max(_LEAST, _TIMES * noise_of_repeats(case.device[measured_slots], all_lab))
    expected, sd = explanation.final.predicted(np.array(slots, dtype=np.intp))
    for slot, mean, uncertain in zip(slots, expected, sd, strict=True):
        measured = case.reading.lab[explanation.rows[slot]]
        distance = float(delta_E_ab(measured, mean))
        if distance > least and np.any(np.abs(measured - mean) > _LEAST_SD * uncertain):
            mixtures = _mixtures(case, explanation, slot, measured, mean, uncertain)
            if mixtures:
                yield _edge(case, slot, distance, mixtures)
            else:
                yield _spoilt(case.ids[slot], case.label(slot), distance)


def judged_singly(case: Case, explanation: Explanation) -> tuple[SpoiltPatch, ...]:
    """Return the spoilt patches; none where a mistake of order explains what does not fit."""
    if explanation.findings:
        return ()
    return spoilt_patches(case.rearranged(explanation.rows))


def _left_out(case: Case, explanation: Explanation, named: set[str]) -> Iterator[Finding]:
    """Name the spoilt patches that the search, which looks for mistakes of order, let pass."""
    label = dict(zip(case.ids, map(case.label, range(len(case))), strict=True))
    for patch in judged_singly(case, explanation):
        if patch.id not in named:
            distance = float(np.linalg.norm(patch.departure))
            yield _spoilt(patch.id, label[patch.id], distance)


def _mixtures(
    case: Case, explanation: Explanation, slot: int, measured: Array, mean: Array, sd: Array
) -> list[Mixture]:
    """Find the areas beside a patch that, mixed with what is expected of it, were measured."""
    beside = [("bare paper", bare_paper(case))]
    for other in case.neighbours(slot):
        if explanation.rows[other] >= 0:
            beside.append((case.label(other), case.reading.lab[explanation.rows[other]]))
    own = lab_to_xyz(mean, _D50)
    fitting = []
    for name, lab in beside:
        if delta_E_ab(lab, mean) < _UNLIKE:
            continue
        light = (1 - _SHARES[:, None]) * own + _SHARES[:, None] * lab_to_xyz(lab, _D50)
        away = (xyz_to_lab(light, _D50) - measured) / np.maximum(sd, 0.2)
        misfit = np.sum(away**2, axis=1)
        least = int(np.argmin(misfit))
        if least < len(_SHARES) - 1 and misfit[least] < _FIT:
            fitting.append(Mixture(name, float(_SHARES[least])))
    return fitting


def _edge(case: Case, slot: int, distance: float, mixtures: list[Mixture]) -> Finding:
    name = case.label(slot)
    made_of = " or ".join(f"{100 * one.share:.0f} % {one.neighbour}" for one in mixtures)
    return Finding(
        kind=EDGE_KIND,
        where=name,
        probability=0.85,
        found=f"{name} lies ΔE {distance:.1f} from what its neighbours in tone suggest, as if "
        f"the instrument had also seen {made_of}.",
        advice=f"Read {name} again, with the instrument in the middle of the patch.",
        ids=(case.ids[slot],),
    )


def _spoilt(patch_id: str, name: str, distance: float) -> Finding:
    return Finding(
        kind=KIND,
        where=name,
        probability=0.9,
        found=f"{name} lies ΔE {distance:.1f} from what its neighbours in tone suggest, and is "
        "not a mixture with what lies beside it.",
        advice=f"Look at {name} for dust, a scratch or a fault of the print, and read it again.",
        ids=(patch_id,),
    )
