"""Which explanations of a reading's order are believed: the likeliest, one after another."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.checks.beyond_order import (
    PATCH_GROUP,
    page_changes,
    paper_read,
    set_aside_patches,
    set_aside_strips,
    two_sheets,
)
from greyscale.checks.case import Case
from greyscale.checks.finding import Finding
from greyscale.checks.likelihood import Assignment, Proposal, log_evidence, set_aside
from greyscale.checks.order import (
    BACKWARDS,
    backwards,
    exchanged,
    in_snakes,
    read_twice,
    rearranged,
    shifted,
    slipped,
    swapped,
    with_exceptions,
)
from greyscale.colorimetry.arrays import Array, Indices

Kind = Callable[[Assignment], Iterator[Proposal]]
"""What a kind of mistake is: a function that yields what would explain values that do not fit."""

SIMPLE: tuple[Kind, ...] = (
    backwards,
    swapped,
    shifted,
    read_twice,
    exchanged,
    paper_read,
    set_aside_patches,
)
"""Mistakes of a strip or two, or of a patch: one that explains everything is believed."""

FURTHER: tuple[Kind, ...] = (
    with_exceptions,
    slipped,
    rearranged,
    page_changes,
    two_sheets,
    set_aside_strips,
)
"""What else is thought of when no simple mistake explains everything."""

FEWEST = 5
"""With fewer patches nothing can be said of their order,"""

LEAST_RANGE = 0.1
"""nor with levels that differ by less."""

MOST_TOGETHER = 500
"""So many patches are judged against each other: time grows with their number's third power."""

MOST_MISTAKES = 40
"""Beyond so many the search ends: each takes as long, and the sheet is to be read anew."""

_THRESHOLD = 7.0  # Log odds, prior included, from which on an explanation is believed.
_TEMPER = 0.5  # Log likelihoods count half when a probability is stated: no belief is exact.
_RIVAL = 0.02  # Variants at least this likely, of all variants together, are named.


@dataclass(frozen=True, eq=False)
class Explanation:
    """What the search came to believe.

    Attributes
    ----------
    final
        The assignment in which everything fits, or is set aside; where the order was not searched,
        that of `MOST_TOGETHER` patches at most, of all tones.
    rows
        Row of each slot with the mistakes put right; values that are set aside stay.
    findings
        Of the mistakes in the order.
    set_aside
        Slots whose measurement does not fit: to be judged one by one.
    stopped
        Whether there were more than `MOST_MISTAKES`, of which only so many are told.
    """

    final: Assignment
    rows: Indices
    findings: tuple[Finding, ...] = ()
    set_aside: tuple[int, ...] = ()
    stopped: bool = False


def unsearched(case: Case) -> Explanation:
    """Take the order as it stands in the reading."""
    return Explanation(Assignment.as_read(case.thinned(MOST_TOGETHER)), case.rows)


def explain(case: Case) -> Explanation:
    """Look for the mistakes in the order that explain a reading best, until it fits."""
    state = Assignment.as_read(case)
    findings: list[Finding] = []
    stopped = False
    for _ in range(MOST_MISTAKES):
        offered, gains = _offer(state, SIMPLE)
        better = _best(state, offered, gains)
        # A patch set aside explains nothing: it keeps a mistake of order from being made of it.
        silent = better is not None and offered[int(np.argmax(gains))].group == PATCH_GROUP
        if better is None or better.suspicious or silent:
            further, further_gains = _offer(state, FURTHER)
            offered, gains = offered + further, np.concatenate([gains, further_gains])
            better = _best(state, offered, gains)
        if better is None:
            break
        best = int(np.argmax(gains))
        probability, rivals = _judge(state, offered, gains, best)
        findings.extend(offered[best].describe(probability, rivals))
        state = better
        if np.sum(state.rows < -1) > len(case) / 2:
            break
    else:
        stopped = True
    aside = tuple(int(slot) for slot in np.flatnonzero(state.rows < -1))
    rows = np.where(state.rows < -1, set_aside(state.rows), state.rows)
    told = in_snakes(case, _settled(findings))
    return Explanation(state, rows, told, aside, stopped)


def _settled(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Leave out strips that were turned round twice on the way: they were never backwards."""
    kept: list[Finding] = []
    for finding in findings:
        turned = [other for other in kept if other.kind == BACKWARDS == finding.kind]
        before = next((other for other in turned if other.where == finding.where), None)
        if before is None:
            kept.append(finding)
        else:
            kept.remove(before)
    return tuple(kept)


def _offer(state: Assignment, kinds: Sequence[Kind]) -> tuple[list[Proposal], Array]:
    """Collect the proposals of some kinds, with their gains."""
    offered = [proposal for kind in kinds for proposal in kind(state)]
    return offered, _gains(state, offered) if offered else np.empty(0)


def _best(state: Assignment, offered: list[Proposal], gains: Array) -> Assignment | None:
    """Return the state that the likeliest proposal leads to, if it is to be believed at all."""
    if not offered or gains.max() < _THRESHOLD:
        return None
    chosen = offered[int(np.argmax(gains))]
    return Assignment(state.case, chosen.rows, chosen.whole or state.whole)


def _gains(state: Assignment, offered: list[Proposal]) -> Array:
    """Return by how much each proposal is likelier than that all is as it stands, in log odds."""
    gains = np.array([proposal.log_prior for proposal in offered]) - state.evidence
    plain = [index for index, proposal in enumerate(offered) if proposal.whole is None]
    if plain:
        rows = np.stack([offered[index].rows for index in plain])
        gains[plain] += log_evidence(state.case, state.whole, rows)
    for index, proposal in enumerate(offered):
        if proposal.whole is not None:
            gains[index] += log_evidence(state.case, proposal.whole, proposal.rows[None])[0]
    return gains


def _judge(
    state: Assignment, offered: list[Proposal], gains: Array, best: int
) -> tuple[float, list[Proposal]]:
    """Return the probability of the best explanation's group, and its rivals within the group."""
    chosen = offered[best]
    changed = np.stack([proposal.rows for proposal in offered]) != state.rows
    changed |= np.array([[proposal.whole is not None] for proposal in offered])
    overlapping = np.any(changed & changed[best], axis=1)
    weight = np.exp(_TEMPER * (gains - gains[best]))
    others = np.exp(-_TEMPER * gains[best])  # That all is as it stands in the reading.
    group = 0.0
    seen: set[tuple[bytes, int]] = set()
    rivals = []
    for index, proposal in enumerate(offered):
        key = proposal.rows.tobytes(), id(proposal.whole)
        if key in seen or not overlapping[index]:
            continue
        seen.add(key)
        if proposal.group == chosen.group:
            group += weight[index]
            if index != best and weight[index] > _RIVAL:
                rivals.append(proposal)
        elif proposal.whole is not None or not np.array_equal(proposal.rows, chosen.rows):
            others += weight[index]
    return float(group / (group + others)), rivals
