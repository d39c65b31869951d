"""Are there values that fit no place: set aside, so that they do not spoil the judgement?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from greyscale.checks.case import Strip
from greyscale.checks.evidence import Assignment, set_aside
from greyscale.checks.explanations.proposal import Proposal, ids_of, log_prior
from greyscale.checks.finding import Finding

STRIP_KIND = "strip does not fit"
PATCH_GROUP = "patch set aside"
"""Patches set aside are judged by the checks of single values."""

_MOST = 4  # Patches that are looked at in one go: the worst ones.
_MISFIT = 20.0  # Squared departure, in variances over three values, of a patch worth a look.


def strips(state: Assignment) -> Iterator[Proposal]:
    """Propose to set aside each suspicious strip."""
    if len(state.case.strips) > 1:
        for strip in state.suspicious:
            rows = state.rows.copy()
            rows[strip.slots] = set_aside(rows[strip.slots])
            prior = log_prior(0.005, len(state.case.strips))
            describe = partial(_describe_strip, state, strip)
            yield Proposal(rows, prior, f"{STRIP_KIND} {strip.name}", describe)


def patches(state: Assignment) -> Iterator[Proposal]:
    """Propose to set aside each of the worst patches."""
    for index in np.argsort(-state.patch_misfit)[:_MOST]:
        if state.patch_misfit[index] > _MISFIT:
            rows = state.rows.copy()
            slot = state.active[index]
            rows[slot] = set_aside(rows[slot])
            prior = log_prior(0.05, len(state.case))
            yield Proposal(rows, prior, PATCH_GROUP, _silent)


def _describe_strip(
    state: Assignment, strip: Strip, probability: float, rivals: Sequence[Proposal]
) -> tuple[Finding, ...]:
    return (
        Finding(
            kind=STRIP_KIND,
            where=strip.called,
            probability=probability,
            found=f"The values of {strip.called} fit neither its place nor any other on this "
            "chart, in either direction.",
            advice=f"Read {strip.called} again.",
            ids=ids_of(state, strip.slots),
        ),
    )


def _silent(probability: float, rivals: Sequence[Proposal]) -> tuple[Finding, ...]:
    return ()
