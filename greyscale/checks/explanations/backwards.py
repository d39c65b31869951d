"""Was a strip read from its other end?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from greyscale.checks.case import Strip
from greyscale.checks.evidence import Assignment
from greyscale.checks.explanations.proposal import (
    USE_REPAIRED,
    Proposal,
    ids_of,
    log_prior,
)
from greyscale.checks.finding import Finding

KIND = "strip read backwards"


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose each suspicious strip read from its other end."""
    prior = log_prior(0.02, len(state.case.strips))
    for strip in state.suspicious:
        if len(strip) > 1:
            rows = state.rows.copy()
            rows[strip.slots] = rows[strip.slots[::-1]]
            yield Proposal(rows, prior, f"{KIND} {strip.name}", partial(_describe, state, strip))


def finding(state: Assignment, strip: Strip, probability: float) -> Finding:
    """Say that a strip was read from its other end."""
    return Finding(
        kind=KIND,
        where=strip.called,
        probability=probability,
        found=f"The values of {strip.called} fit in the opposite order: it was read backwards.",
        advice=f"{USE_REPAIRED}: every value is there, in the chart's order.",
        ids=ids_of(state, strip.slots),
        repaired=True,
    )


def _describe(
    state: Assignment, strip: Strip, probability: float, rivals: Sequence[Proposal]
) -> tuple[Finding, ...]:
    return (finding(state, strip, probability),)
