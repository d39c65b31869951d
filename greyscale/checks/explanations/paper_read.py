"""Was bare paper read in place of a patch?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from greyscale.checks.evidence import Assignment, bare_paper
from greyscale.checks.explanations.proposal import Proposal, log_prior
from greyscale.checks.finding import Finding
from greyscale.colorimetry.differences import delta_E_ab

KIND = "paper read as a patch"

_SAME = 1.5  # ΔE*ab within which a value is taken for bare paper,
_FAR = 4.0  # and from which on the patch itself should measure otherwise.
_MISFIT = 20.0  # Squared departure, in variances over three values, of a patch worth a look.


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose each patch that does not fit, and measures as bare paper does."""
    paper = bare_paper(state.case)
    like_paper = delta_E_ab(state.lab, paper) < _SAME
    like_paper &= delta_E_ab(state.left_out[0], paper) > _FAR
    prior = log_prior(0.05, len(state.case)) + 1.0  # Likelier than just anything in its place.
    for index in np.flatnonzero(like_paper & (state.patch_misfit > _MISFIT)):
        slot = int(state.active[index])
        rows = state.rows.copy()
        rows[slot] = -1
        yield Proposal(rows, prior, f"{KIND} {slot}", partial(_describe, state, slot))


def _describe(
    state: Assignment, slot: int, probability: float, rivals: Sequence[Proposal]
) -> tuple[Finding, ...]:
    name = state.case.label(slot)
    return (
        Finding(
            kind=KIND,
            where=name,
            probability=probability,
            found=f"{name} measures like bare paper, which no printer prints among these tones: "
            f"{name} was not measured.",
            advice=f"Read {name} again; the repaired reading leaves it out.",
            ids=(state.case.ids[slot],),
            lost=(state.case.ids[slot],),
            repaired=True,
        ),
    )
