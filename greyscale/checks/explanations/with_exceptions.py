"""Does a strip fit in another order but for a patch or two that are spoilt besides?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import chain

import numpy as np

from greyscale.checks.evidence import Assignment, set_aside
from greyscale.checks.explanations import backwards, shifted, swapped
from greyscale.checks.explanations.proposal import Proposal
from greyscale.colorimetry.arrays import Array, Indices

_FEWEST_STRIPS = 3  # Of fewer, too little is left to judge a strip by.
_WORST = 4  # Suspicious strips that are looked at in one go.
_SPOILT = 30.0  # Squared departure, in variances over three values, of a spoilt patch.
_MOST = 0.34  # Share of a strip's patches that may be spoilt.
_PRIOR = -3.0  # Log prior of each.


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose simple mistakes of the worst strips, with the patches set aside that do not fit."""
    if len(state.case.strips) < _FEWEST_STRIPS:
        return
    worst = {int(slot) for strip in state.suspicious[:_WORST] for slot in strip.slots}
    known: dict[bytes, tuple[Array, Array]] = {}
    simple = chain(backwards.proposals(state), swapped.proposals(state), shifted.proposals(state))
    for proposal in simple:
        touched = np.flatnonzero(proposal.rows != state.rows)
        if not touched.size or not worst.issuperset(touched.tolist()):
            continue
        key = touched.tobytes()
        if key not in known:
            known[key] = _from_the_rest(state, touched)
        rows = _without_spoilt(state, proposal.rows, touched, *known[key])
        aside = int(np.sum((rows < -1) & (proposal.rows >= 0)))
        if 0 < aside <= _MOST * touched.size:
            log_prior = proposal.log_prior + _PRIOR * aside
            yield replace(proposal, rows=rows, log_prior=log_prior)


def _from_the_rest(state: Assignment, slots: Indices) -> tuple[Array, Array]:
    """Return what some slots should measure by all the others: mean and sd, (k, 3)."""
    rows = state.rows.copy()
    rows[slots] = -1
    return Assignment(state.case, rows, state.whole).predicted(slots)


def _without_spoilt(
    state: Assignment, rows: Indices, slots: Indices, mean: Array, sd: Array
) -> Indices:
    measured = rows[slots] >= 0
    lab = state.case.reading.lab[np.maximum(rows[slots], 0)]
    misfit = np.sum(((lab - mean) / sd) ** 2, axis=1)
    spoilt = slots[measured & (misfit > _SPOILT)]
    result = rows.copy()
    result[spoilt] = set_aside(rows[spoilt])
    return result
