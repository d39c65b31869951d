"""Were the strips read in another order altogether, or the sheet turned round?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from math import log

import numpy as np

from greyscale.checks.case import Strip
from greyscale.checks.evidence import Assignment
from greyscale.checks.explanations import backwards, swapped
from greyscale.checks.explanations.proposal import (
    USE_REPAIRED,
    Proposal,
    ids_of,
    log_prior,
)
from greyscale.checks.finding import Finding
from greyscale.colorimetry.arrays import Array, Indices

KIND = "strips read in another order"
TURNED = "sheet read from its other end"


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose the sheet turned round, all strips backwards, and the order that L* suggests."""
    case = state.case
    level = case.device[state.active].mean(axis=1)
    falls = np.sum((level - level.mean()) * state.lab[:, 0]) < 0
    if len(state.suspicious) < min(2, len(case.strips)) and not falls:
        return
    turned = state.rows[::-1].copy()
    yield Proposal(turned, log_prior(0.01, 1), TURNED, partial(_describe_turned, state))
    if len(case.strips) < 2:
        return
    direction = [(index, True) for index in range(len(case.strips))]
    orders = [direction, [(i, False) for i, _ in reversed(direction)], _by_lightness(state)]
    for order in orders:
        rows = _reordered(state, order)
        moved = sum(source != (index, False) for index, source in enumerate(order))
        if rows is not None and moved:
            prior = log(0.005) - moved * log(2.0 * len(order))
            yield Proposal(rows, prior, KIND, partial(_describe, state, order))


def _reordered(state: Assignment, order: Sequence[tuple[int, bool]]) -> Indices | None:
    """Put into each strip the values of another, backwards or not; None if lengths forbid."""
    strips = state.case.strips
    rows = state.rows.copy()
    for strip, (source, turned) in zip(strips, order, strict=True):
        if len(strip) != len(strips[source]):
            return None
        rows[strip.slots] = state.rows[strips[source].slots[:: -1 if turned else 1]]
    return rows


def _by_lightness(state: Assignment) -> list[tuple[int, bool]]:
    """Assign strips of values to strips of the chart by the ranks of lightness.

    Whatever the order of the values, the lightest of all are of the lightest patches: sorted
    L* over sorted level is a tone curve that no mistake in the order can spoil.
    """
    from scipy.optimize import linear_sum_assignment

    case, strips = state.case, state.case.strips
    L = np.full(len(case), np.nan)
    L[state.active] = state.lab[:, 0]
    level = case.device.mean(axis=1)
    expected = np.interp(level, np.sort(level[state.active]), np.sort(state.lab[:, 0]))
    cost = np.full((len(strips), len(strips)), 1e9)
    turned = np.zeros(cost.shape, dtype=bool)
    for i, strip in enumerate(strips):
        for j, source in enumerate(strips):
            if len(strip) == len(source):
                values = L[source.slots]
                ways = [_distance(values, expected[strip.slots])]
                ways.append(_distance(values[::-1], expected[strip.slots]))
                # Of equally good ways, leave things as they are.
                turned[i, j] = ways[1] < ways[0]
                cost[i, j] = min(ways)
    _, chosen = linear_sum_assignment(cost)
    return [(int(j), bool(turned[i, j])) for i, j in enumerate(chosen)]


def _distance(values: Array, expected: Array) -> float:
    known = ~np.isnan(values)
    # Single values that fit nowhere shall not decide.
    return float(np.sum(np.minimum(np.abs(values[known] - expected[known]), 15.0)))


def _describe(
    state: Assignment,
    order: Sequence[tuple[int, bool]],
    probability: float,
    rivals: Sequence[Proposal],
) -> tuple[Finding, ...]:
    strips = state.case.strips
    if all(source == (index, True) for index, source in enumerate(order)):
        return (_all_backwards(state, probability),)
    findings: list[Finding] = []
    cycled: list[int] = []
    for index, (source, _) in enumerate(order):
        if source != index and order[source][0] == index:
            if index < source:
                findings.append(swapped.finding(state, strips[index], strips[source], probability))
        elif source != index:
            cycled.append(index)
    if cycled:
        findings.append(_another_order(state, order, cycled, probability))
    for index, (_, turned) in enumerate(order):
        if turned:
            findings.append(backwards.finding(state, strips[index], probability))
    return tuple(findings)


def _all_backwards(state: Assignment, probability: float) -> Finding:
    return Finding(
        kind=backwards.KIND,
        where="all strips",
        probability=probability,
        found="The values of every strip fit in the opposite order: all were read backwards.",
        advice=f"{USE_REPAIRED}: every value is there, in the chart's order.",
        ids=ids_of(state, np.arange(len(state.case))),
        repaired=True,
    )


def _another_order(
    state: Assignment,
    order: Sequence[tuple[int, bool]],
    moved: Sequence[int],
    probability: float,
) -> Finding:
    strips: tuple[Strip, ...] = state.case.strips
    holder = {order[index][0]: index for index in moved}
    names = ", ".join(strips[source].name for source in sorted(holder))
    held = ", ".join(strips[holder[source]].name for source in sorted(holder))
    return Finding(
        kind=KIND,
        where=f"strips {names}",
        probability=probability,
        found=f"Under the names of strips {names} stand the values of strips {held}.",
        advice=f"{USE_REPAIRED}: every value is there, under its own strip.",
        ids=ids_of(state, np.concatenate([strips[index].slots for index in moved])),
        repaired=True,
    )


def _describe_turned(
    state: Assignment, probability: float, rivals: Sequence[Proposal]
) -> tuple[Finding, ...]:
    single = len(state.case.strips) == 1
    return (
        Finding(
            kind=TURNED,
            where="the whole reading",
            probability=probability,
            found="All values fit in the opposite order: "
            + ("the reading starts at the other end." if single else "the sheet was turned round."),
            advice=f"{USE_REPAIRED}: every value is there, in the chart's order.",
            ids=ids_of(state, np.arange(len(state.case))),
            repaired=True,
        ),
    )
