"""Was a strip read twice, and another one not at all?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from greyscale.checks.case import Strip
from greyscale.checks.evidence import Assignment
from greyscale.checks.explanations.proposal import Proposal, ids_of, log_prior
from greyscale.checks.finding import Finding
from greyscale.colorimetry.differences import delta_E_ab

KIND = "strip read twice"

_ALIKE = 1.5  # Median ΔE*ab within which two strips are the same one.
_GAIN = 6.0  # Log likelihood per value by which a second reading is more than anything at all.


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose each suspicious strip whose values are those of another strip once more."""
    count = len(state.case.strips)
    for strip in state.suspicious:
        other = _same_values(state, strip) if len(strip) > 1 else None
        if other is not None:
            rows = state.rows.copy()
            rows[strip.slots] = -1
            prior = log_prior(0.01, count * count) + _GAIN * len(strip)
            group = f"{KIND} {strip.name}"
            yield Proposal(rows, prior, group, partial(_describe, state, strip, other))


def _same_values(state: Assignment, strip: Strip) -> Strip | None:
    """Find the strip of which a strip is a second reading, in either direction."""
    others = [
        other
        for other in state.case.strips
        if other is not strip and len(other) == len(strip) and np.all(state.rows[other.slots] >= 0)
    ]
    own = state.rows[strip.slots]
    if not others or np.any(own < 0):
        return None
    lab = state.case.reading.lab
    values = lab[state.rows[np.stack([other.slots for other in others])]]
    apart = [np.median(delta_E_ab(values, lab[way]), axis=1) for way in (own, own[::-1])]
    nearest = np.minimum(*apart)
    best = int(np.argmin(nearest))
    return others[best] if nearest[best] < _ALIKE else None


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
