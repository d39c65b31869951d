"""Were two neighbouring patches measured in each other's place?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from itertools import pairwise

import numpy as np

from greyscale.checks.evidence import Assignment
from greyscale.checks.explanations.proposal import (
    USE_REPAIRED,
    Proposal,
    ids_of,
    log_prior,
)
from greyscale.checks.finding import Finding

KIND = "patches exchanged"

_MISFIT = 25.0  # Squared departure, in variances over three values, of a patch worth a look.


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose each pair of neighbours that do not fit."""
    case = state.case
    poor = set(state.active[state.patch_misfit > _MISFIT].tolist())
    prior = log_prior(0.005, len(case))
    for strip in case.strips:
        for first, second in pairwise(strip.slots.tolist()):
            if first in poor and second in poor:
                rows = state.rows.copy()
                rows[[first, second]] = rows[[second, first]]
                group = f"{KIND} {first} {second}"
                yield Proposal(rows, prior, group, partial(_describe, state, first, second))


def _describe(
    state: Assignment, first: int, second: int, probability: float, rivals: Sequence[Proposal]
) -> tuple[Finding, ...]:
    label = state.case.label
    return (
        Finding(
            kind=KIND,
            where=f"{label(first)} and {label(second)}",
            probability=probability,
            found=f"The value of {label(first)} fits {label(second)}, and the other way round.",
            advice=f"{USE_REPAIRED}: both values are there.",
            ids=ids_of(state, np.array([first, second])),
            repaired=True,
        ),
    )
