"""Did the reading slip by one patch from somewhere to the end of the chart?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from greyscale.checks.evidence import Assignment
from greyscale.checks.explanations.proposal import (
    Proposal,
    ids_of,
    log_prior,
)
from greyscale.checks.explanations.shifted import (
    not_measured,
    slipped,
    surplus_value,
    variants,
)
from greyscale.checks.finding import Finding
from greyscale.colorimetry.arrays import Indices

KIND = "reading shifted by one patch"

_LARGE = 600  # Patches from which on slips are sought at the starts of strips only.


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose each slip that runs on over the end of its strip to the end of the chart."""
    case = state.case
    if len(state.suspicious) < min(2, len(case.strips)) or len(case) < 4:
        return
    order = np.concatenate([strip.slots for strip in case.strips])
    last_strip = len(case) - len(case.strips[-1]) if len(case.strips) > 1 else len(case)
    own = np.concatenate([state.rows[order], np.array(case.surplus, dtype=np.intp)])
    starts = {int(np.flatnonzero(order == strip.slots[0])[0]) for strip in case.strips}
    prior = log_prior(0.002, 2 * len(case))
    for start, late in variants(len(case)):
        if start >= last_strip or (len(case) > _LARGE and start not in starts):
            continue
        moved = slipped(own, start, late)[: len(case)]
        rows = np.empty_like(state.rows)
        rows[order] = moved
        describe = partial(_describe, state, order, own, start, late)
        yield Proposal(rows, prior, KIND, describe)


def _describe(
    state: Assignment,
    order: Indices,
    own: Indices,
    start: int,
    late: bool,
    probability: float,
    rivals: Sequence[Proposal],
) -> tuple[Finding, ...]:
    label = state.case.label
    begin = label(int(order[start]))
    if late:
        what = surplus_value(state, own, start)
        lost = int(order[-1]) if len(own) == len(order) else None
    else:
        what, lost = "a patch was skipped", int(order[start])
    found = f"From {begin} to the end, all values are one patch {'late' if late else 'early'}"
    other = [int(slot) for rival in rivals for slot in rival.lost(state) if slot != lost]
    missing = "" if lost is None else f" {not_measured(state, lost, other)}"
    without = "" if lost is None else f", which leaves {label(lost)} out"
    return (
        Finding(
            kind=KIND,
            where=f"from {begin} to the end",
            probability=probability,
            found=f"{found}: {what}.{missing}",
            advice=f"Take the repaired reading{without}, or read again.",
            ids=ids_of(state, order[start:]),
            lost=() if lost is None else (state.case.ids[lost],),
            repaired=True,
        ),
    )
