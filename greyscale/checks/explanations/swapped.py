"""Were two strips read in each other's place?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from itertools import combinations

import numpy as np

from greyscale.checks.case import Strip
from greyscale.checks.evidence import Assignment
from greyscale.checks.explanations import backwards
from greyscale.checks.explanations.proposal import (
    USE_REPAIRED,
    Proposal,
    ids_of,
    log_prior,
)
from greyscale.checks.finding import Finding
from greyscale.colorimetry.arrays import Indices

KIND = "strips swapped"

_MOST = 10  # Suspicious strips of one length that are looked at in one go: the worst ones.


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose each pair of suspicious strips, either of them perhaps backwards."""
    count = len(state.case.strips)
    prior = log_prior(0.02, count * (count - 1) // 2)
    for first, second in combinations(state.suspicious, 2):
        alike = len(first) == len(second)
        if alike and not {first, second} <= set(state.suspicious[:_MOST]):
            continue
        group = f"{KIND} {first.name} {second.name}"
        swapped = _swapped(state, first, second)
        for turned in ((), (first,), (second,), (first, second)) if alike else ((),):
            rows = swapped.copy()
            for strip in turned:
                rows[strip.slots] = rows[strip.slots[::-1]]
            describe = partial(_describe, state, first, second, turned)
            yield Proposal(rows, prior - 3.0 * len(turned), group, describe)


def _swapped(state: Assignment, first: Strip, second: Strip) -> Indices:
    """Take the values, one after another, for those of the strips with two of them exchanged.

    If the two are of unlike length, the strips between them have been moved along.
    """
    exchanged = {first.name: second, second.name: first}
    order = [exchanged.get(strip.name, strip) for strip in state.case.strips]
    rows = np.empty_like(state.rows)
    in_sequence = state.rows[np.concatenate([strip.slots for strip in state.case.strips])]
    rows[np.concatenate([strip.slots for strip in order])] = in_sequence
    return rows


def finding(state: Assignment, first: Strip, second: Strip, probability: float) -> Finding:
    """Say that two strips were read in each other's place."""
    names = sorted((first.name, second.name), key=lambda name: (len(name), name))
    moved = "" if len(first) == len(second) else " The strips between them were moved along."
    return Finding(
        kind=KIND,
        where=f"strips {names[0]} and {names[1]}",
        probability=probability,
        found=f"Strip {names[1]} was read where strip {names[0]} belongs, and the other way "
        f"round.{moved}",
        advice=f"{USE_REPAIRED}: every value is there, under its own strip.",
        ids=ids_of(state, first.slots) + ids_of(state, second.slots),
        repaired=True,
    )


def _describe(
    state: Assignment,
    first: Strip,
    second: Strip,
    turned: Sequence[Strip],
    probability: float,
    rivals: Sequence[Proposal],
) -> tuple[Finding, ...]:
    turns = (backwards.finding(state, strip, probability) for strip in turned)
    return (finding(state, first, second, probability), *turns)
