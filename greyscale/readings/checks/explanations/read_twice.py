"""Was a strip read twice, and another one not at all?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from itertools import permutations

import numpy as np

from greyscale.colorimetry.differences import delta_E_ab
from greyscale.readings.checks.case import Strip
from greyscale.readings.checks.evidence import Assignment
from greyscale.readings.checks.explanations.proposal import Proposal, ids_of, log_prior
from greyscale.readings.checks.finding import Finding

KIND = "strip read twice"

_ALIKE = 1.5  # Median ΔE*ab within which two strips are the same one.
_GAIN = 6.0  # Log likelihood per value by which a second reading is more than anything at all.


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose each suspicious strip whose values are those of another strip once more."""
    lab = state.case.reading.lab
    for strip, other in permutations(state.case.strips, 2):
        if strip not in state.suspicious or len(strip) != len(other) or len(strip) < 2:
            continue
        own, again = state.rows[strip.slots], state.rows[other.slots]
        if np.any(own < 0) or np.any(again < 0):
            continue
        apart = min(
            float(np.median(delta_E_ab(lab[own], lab[again]))),
            float(np.median(delta_E_ab(lab[own], lab[again[::-1]]))),
        )
        if apart < _ALIKE:
            rows = state.rows.copy()
            rows[strip.slots] = -1
            prior = log_prior(0.01, len(state.case.strips) ** 2) + _GAIN * len(strip)
            group = f"{KIND} {strip.name}"
            yield Proposal(rows, prior, group, partial(_describe, state, strip, other))


def _describe(
    state: Assignment,
    strip: Strip,
    other: Strip,
    probability: float,
    rivals: Sequence[Proposal],
) -> tuple[Finding, ...]:
    ids = ids_of(state, strip.slots)
    return (
        Finding(
            kind=KIND,
            where=f"{strip.called}, {other.called}",
            probability=probability,
            found=f"The values of {strip.called} are a second reading of {other.called}; "
            f"{strip.called} itself was not measured.",
            advice=f"Read {strip.called} again; the repaired reading leaves it out.",
            ids=ids,
            lost=ids,
            repaired=True,
        ),
    )
