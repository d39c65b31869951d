"""Mistakes in the order of reading: strips backwards, swapped or shifted, a sheet turned round.

Each kind is a function that yields what would explain values that do not fit; evidence decides.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import chain, combinations, pairwise
from math import log

import numpy as np

from greyscale.checks.case import Case, Strip
from greyscale.checks.finding import Finding
from greyscale.checks.likelihood import (
    USE_REPAIRED,
    Assignment,
    Proposal,
    bare_paper,
    log_prior,
    set_aside,
)
from greyscale.colorimetry.arrays import Array, Indices, medians
from greyscale.colorimetry.cielab import delta_E_ab

# Was a strip read from its other end?

BACKWARDS = "strip read backwards"


def backwards(state: Assignment) -> Iterator[Proposal]:
    """Propose each suspicious strip read from its other end."""
    prior = log_prior(0.02, len(state.case.strips))
    for strip in state.suspicious:
        if len(strip) > 1:
            rows = state.rows.copy()
            rows[strip.slots] = rows[strip.slots[::-1]]
            yield Proposal(
                rows, prior, f"{BACKWARDS} {strip.name}", partial(_describe_backwards, state, strip)
            )


def read_backwards(state: Assignment, strip: Strip) -> Finding:
    """Say that a strip was read from its other end."""
    return Finding(
        kind=BACKWARDS,
        where=strip.called,
        found=f"The values of {strip.called} fit in the opposite order: it was read backwards.",
        advice=f"{USE_REPAIRED}: every value is there, in the chart's order.",
        ids=state.case.ids_of(strip.slots),
        repaired=True,
    )


def in_snakes(case: Case, findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return findings, those of every other strip read backwards as one: read to and fro."""
    turned = [one for one in findings if one.kind == BACKWARDS]
    named = {one.where for one in turned}
    for first in (0, 1):
        strips = case.strips[first::2]
        if len(strips) > 1 and named == {strip.called for strip in strips}:
            names = ", ".join(strip.name for strip in strips)
            snake = Finding(
                kind=BACKWARDS,
                where="every other strip",
                probability=min(one.probability for one in turned),
                found=f"The values of strips {names} fit in the opposite order: the sheet was "
                "read to and fro.",
                advice=f"{USE_REPAIRED}: every value is there, in the chart's order.",
                ids=tuple(patch for one in turned for patch in one.ids),
                repaired=True,
            )
            return (snake, *(one for one in findings if one.kind != BACKWARDS))
    return tuple(findings)


def _describe_backwards(
    state: Assignment, strip: Strip, rivals: Sequence[Proposal]
) -> Iterator[Finding]:
    yield read_backwards(state, strip)


# Did a strip slip by one patch: was something read that is no patch, or a patch skipped?

SHIFTED = "strip shifted by one patch"

_MOST_SHIFTED = 4  # Suspicious strips that are looked at in one go: the worst ones.
_SAME = 2.0  # ΔE*ab within which a surplus value is taken for paper, or for the patch before it.


def shifted(state: Assignment) -> Iterator[Proposal]:
    """Propose each slip of each of the most suspicious strips, read either way."""
    for strip in state.suspicious[:_MOST_SHIFTED]:
        if len(strip) < 2:
            continue
        group = f"{SHIFTED} {strip.name}"
        prior = log_prior(0.02, 2 * len(strip) * len(state.case.strips))
        for turned in (False, True):
            own = state.rows[strip.slots][:: -1 if turned else 1]
            for start, late in variants(len(strip)):
                rows = state.rows.copy()
                rows[strip.slots] = put_right(own, start, late)
                describe = partial(_describe_shifted, state, strip, start, late, turned)
                # A slip at an end of the strip is the commonest.
                further = 0.0 if start == 0 else -1.0
                yield Proposal(rows, prior + further - 3.0 * turned, group, describe)


def variants(length: int) -> Iterator[tuple[int, bool]]:
    """Name every slip that moves at least one value: where it begins, and whether it is late."""
    for start in range(length - 1):
        yield start, True
        yield start, False


def put_right(own: Indices, start: int, late: bool) -> Indices:
    """Put right a sequence that slipped by one place.

    Late: value number `start` is no patch, and all after it belong one place earlier; nothing
    is left for the last place. Early: patch number `start` was not read, and all from there on
    belong one place later; the last value is no patch.

    Examples
    --------
    >>> put_right(np.array([9, 1, 2, 3]), 0, True).tolist()
    [1, 2, 3, -1]
    >>> put_right(np.array([1, 3, 4, 9]), 1, False).tolist()
    [1, -1, 3, 4]
    """
    none = np.array([-1], dtype=np.intp)
    if late:
        return np.concatenate([own[:start], own[start + 1 :], none])
    return np.concatenate([own[:start], none, own[start:-1]])


def _describe_shifted(
    state: Assignment,
    strip: Strip,
    start: int,
    late: bool,
    turned: bool,
    rivals: Sequence[Proposal],
) -> Iterator[Finding]:
    own = state.rows[strip.slots][:: -1 if turned else 1]
    lost = strip.slots[-1] if late else strip.slots[start]
    label = state.case.label
    if late:
        what = surplus_value(state, own, start)
        begin = label(int(strip.slots[start]))
        found = f"From {begin} on, the values of {strip.called} are one patch late: {what}."
    else:
        found = (
            f"From {label(int(lost))} on, the values of {strip.called} are one patch early: "
            f"a patch was skipped."
        )
    other = [int(slot) for rival in rivals for slot in rival.lost(state) if slot != lost]
    shift = Finding(
        kind=SHIFTED,
        where=strip.called,
        found=f"{found} {not_measured(state, int(lost), other)}",
        advice=f"It can be put right, leaving {label(int(lost))} out; or read {strip.called} "
        "again.",
        ids=state.case.ids_of(strip.slots),
        lost=(state.case.ids[lost],),
        repaired=True,
    )
    if turned:
        yield read_backwards(state, strip)
    yield shift


def not_measured(state: Assignment, lost: int, other: Sequence[int]) -> str:
    """Say which patch has no value, and which else it may be."""
    label = state.case.label
    names = list(dict.fromkeys(label(slot) for slot in other if slot >= 0))
    doubt = f" (or {', '.join(names)}, which measures the same)" if names else ""
    return f"{label(lost)} was not measured{doubt}."


def surplus_value(state: Assignment, own: Indices, start: int) -> str:
    """Say what a value is that is no patch: paper, or the patch beside it once more."""
    lab = state.case.reading.lab
    row = own[start]
    if row < 0:
        return "a value is missing"
    # Of two values of one patch either may be taken for the surplus one.
    beside = (*own[:start][-1:], *own[start + 1 :][:1])
    if any(other >= 0 and delta_E_ab(lab[row], lab[other]) < _SAME for other in beside):
        return "a patch was read twice"
    if delta_E_ab(lab[row], bare_paper(state.case)) < _SAME:
        return "bare paper was read as a patch"
    return "something other than a patch was read"


# Did the reading slip by one patch from somewhere to the end of the chart?

SLIPPED = "reading shifted by one patch"


def slipped(state: Assignment) -> Iterator[Proposal]:
    """Propose each slip that runs on over the end of its strip to the end of the chart."""
    case = state.case
    if len(state.suspicious) < min(2, len(case.strips)) or len(case) < 4:
        return
    order = np.concatenate([strip.slots for strip in case.strips])
    last_strip = len(case) - len(case.strips[-1]) if len(case.strips) > 1 else len(case)
    own = np.concatenate([state.rows[order], np.array(case.surplus, dtype=np.intp)])
    prior = log_prior(0.002, 2 * len(case))
    for start, late in variants(len(case)):
        if start >= last_strip:
            break
        moved = put_right(own, start, late)[: len(case)]
        rows = np.empty_like(state.rows)
        rows[order] = moved
        describe = partial(_describe_slipped, state, order, own, start, late)
        yield Proposal(rows, prior, SLIPPED, describe)


def _describe_slipped(
    state: Assignment,
    order: Indices,
    own: Indices,
    start: int,
    late: bool,
    rivals: Sequence[Proposal],
) -> Iterator[Finding]:
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
    without = "" if lost is None else f", leaving {label(lost)} out"
    yield Finding(
        kind=SLIPPED,
        where=f"from {begin} to the end",
        found=f"{found}: {what}.{missing}",
        advice=f"It can be put right{without}; or read again.",
        ids=state.case.ids_of(order[start:]),
        lost=() if lost is None else (state.case.ids[lost],),
        repaired=True,
    )


# Were two strips read in each other's place?

SWAPPED = "strips swapped"

_MOST_SWAPPED = 10  # Suspicious strips of one length that are looked at: the worst ones.


def swapped(state: Assignment) -> Iterator[Proposal]:
    """Propose each pair of suspicious strips, either of them perhaps backwards."""
    count = len(state.case.strips)
    prior = log_prior(0.02, count * (count - 1) // 2)
    for first, second in combinations(state.suspicious, 2):
        alike = len(first) == len(second)
        if alike and not {first, second} <= set(state.suspicious[:_MOST_SWAPPED]):
            continue
        group = f"{SWAPPED} {first.name} {second.name}"
        moved = _with_exchanged(state, first, second)
        for turned in ((), (first,), (second,), (first, second)) if alike else ((),):
            rows = moved.copy()
            for strip in turned:
                rows[strip.slots] = rows[strip.slots[::-1]]
            describe = partial(_describe_swapped, state, first, second, turned)
            yield Proposal(rows, prior - 3.0 * len(turned), group, describe)


def _with_exchanged(state: Assignment, first: Strip, second: Strip) -> Indices:
    """Take the values, one after another, for those of the strips with two of them exchanged.

    If the two are of unlike length, the strips between them have been moved along.
    """
    exchanged = {first.name: second, second.name: first}
    order = [exchanged.get(strip.name, strip) for strip in state.case.strips]
    rows = np.empty_like(state.rows)
    in_sequence = state.rows[np.concatenate([strip.slots for strip in state.case.strips])]
    rows[np.concatenate([strip.slots for strip in order])] = in_sequence
    return rows


def strips_swapped(state: Assignment, first: Strip, second: Strip) -> Finding:
    """Say that two strips were read in each other's place."""
    names = sorted((first.name, second.name), key=lambda name: (len(name), name))
    moved = "" if len(first) == len(second) else " The strips between them were moved along."
    return Finding(
        kind=SWAPPED,
        where=f"strips {names[0]} and {names[1]}",
        found=f"Strip {names[1]} was read where strip {names[0]} belongs, and the other way "
        f"round.{moved}",
        advice=f"{USE_REPAIRED}: every value is there, under its own strip.",
        ids=state.case.ids_of(first.slots) + state.case.ids_of(second.slots),
        repaired=True,
    )


def _describe_swapped(
    state: Assignment,
    first: Strip,
    second: Strip,
    turned: Sequence[Strip],
    rivals: Sequence[Proposal],
) -> Iterator[Finding]:
    yield strips_swapped(state, first, second)
    for strip in turned:
        yield read_backwards(state, strip)


# Were two neighbouring patches measured in each other's place?

EXCHANGED = "patches exchanged"

_MISFIT = 25.0  # Squared departure, in variances over three values, of a patch worth a look.


def exchanged(state: Assignment) -> Iterator[Proposal]:
    """Propose each pair of neighbours that do not fit."""
    case = state.case
    poor = set(state.active[state.patch_misfit > _MISFIT].tolist())
    prior = log_prior(0.005, len(case))
    for strip in case.strips:
        for first, second in pairwise(strip.slots.tolist()):
            if first in poor and second in poor:
                rows = state.rows.copy()
                rows[[first, second]] = rows[[second, first]]
                group = f"{EXCHANGED} {first} {second}"
                yield Proposal(
                    rows, prior, group, partial(_describe_exchanged, state, first, second)
                )


def _describe_exchanged(
    state: Assignment, first: int, second: int, rivals: Sequence[Proposal]
) -> Iterator[Finding]:
    label = state.case.label
    yield Finding(
        kind=EXCHANGED,
        where=f"{label(first)} and {label(second)}",
        found=f"The value of {label(first)} fits {label(second)}, and the other way round.",
        advice=f"{USE_REPAIRED}: both values are there.",
        ids=state.case.ids_of([first, second]),
        repaired=True,
    )


# Was a strip read twice, and another one not at all?

READ_TWICE = "strip read twice"

_ALIKE = 1.5  # Median ΔE*ab within which two strips are the same one.
_GAIN = 6.0  # Log likelihood per value by which a second reading is more than anything at all.


def read_twice(state: Assignment) -> Iterator[Proposal]:
    """Propose each suspicious strip whose values are those of another strip once more."""
    count = len(state.case.strips)
    for strip in state.suspicious:
        other = _same_values(state, strip) if len(strip) > 1 else None
        if other is not None:
            rows = state.rows.copy()
            rows[strip.slots] = -1
            prior = log_prior(0.01, count * count) + _GAIN * len(strip)
            group = f"{READ_TWICE} {strip.name}"
            yield Proposal(rows, prior, group, partial(_describe_read_twice, state, strip, other))


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
    apart = [medians(delta_E_ab(values, lab[way]), 1) for way in (own, own[::-1])]
    nearest = np.minimum(*apart)
    best = int(np.argmin(nearest))
    return others[best] if nearest[best] < _ALIKE else None


def _describe_read_twice(
    state: Assignment,
    strip: Strip,
    other: Strip,
    rivals: Sequence[Proposal],
) -> Iterator[Finding]:
    ids = state.case.ids_of(strip.slots)
    yield Finding(
        kind=READ_TWICE,
        where=f"{other.called} instead of {strip.called}",
        found=f"The values of {strip.called} are a second reading of {other.called}; "
        f"{strip.called} itself was not measured.",
        advice=f"Read {strip.called} again; the repaired reading leaves it out.",
        ids=ids,
        lost=ids,
        repaired=True,
    )


# Were the strips read in another order altogether, or the sheet turned round?

REARRANGED = "strips read in another order"
TURNED = "sheet read from its other end"


def rearranged(state: Assignment) -> Iterator[Proposal]:
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
            yield Proposal(rows, prior, REARRANGED, partial(_describe_rearranged, state, order))


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


def _describe_rearranged(
    state: Assignment,
    order: Sequence[tuple[int, bool]],
    rivals: Sequence[Proposal],
) -> Iterator[Finding]:
    strips = state.case.strips
    if all(source == (index, True) for index, source in enumerate(order)):
        yield _all_backwards(state)
        return
    cycled: list[int] = []
    for index, (source, _) in enumerate(order):
        if source != index and order[source][0] == index:
            if index < source:
                yield strips_swapped(state, strips[index], strips[source])
        elif source != index:
            cycled.append(index)
    if cycled:
        yield _another_order(state, order, cycled)
    for index, (_, turned) in enumerate(order):
        if turned:
            yield read_backwards(state, strips[index])


def _all_backwards(state: Assignment) -> Finding:
    return Finding(
        kind=BACKWARDS,
        where="all strips",
        found="The values of every strip fit in the opposite order: all were read backwards.",
        advice=f"{USE_REPAIRED}: every value is there, in the chart's order.",
        ids=state.case.ids,
        repaired=True,
    )


def _another_order(
    state: Assignment,
    order: Sequence[tuple[int, bool]],
    moved: Sequence[int],
) -> Finding:
    strips: tuple[Strip, ...] = state.case.strips
    holder = {order[index][0]: index for index in moved}
    names = ", ".join(strips[source].name for source in sorted(holder))
    held = ", ".join(strips[holder[source]].name for source in sorted(holder))
    return Finding(
        kind=REARRANGED,
        where=f"strips {names}",
        found=f"Under the names of strips {names} stand the values of strips {held}.",
        advice=f"{USE_REPAIRED}: every value is there, under its own strip.",
        ids=state.case.ids_of(np.concatenate([strips[index].slots for index in moved])),
        repaired=True,
    )


def _describe_turned(state: Assignment, rivals: Sequence[Proposal]) -> Iterator[Finding]:
    single = len(state.case.strips) == 1
    yield Finding(
        kind=TURNED,
        where="the whole reading",
        found="All values fit in the opposite order: "
        + ("the reading starts at the other end." if single else "the sheet was turned round."),
        advice=f"{USE_REPAIRED}: every value is there, in the chart's order.",
        ids=state.case.ids,
        repaired=True,
    )


# Does a strip fit in another order but for a patch or two that are spoilt besides?

FEWEST_STRIPS = 3
"""Of fewer, too little is left to judge a strip by."""

_WORST = 4  # Suspicious strips that are looked at in one go.
_SPOILT = 30.0  # Squared departure, in variances over three values, of a spoilt patch.
_MOST_SPOILT = 0.34  # Share of a strip's patches that may be spoilt.
_PRIOR = -3.0  # Log prior of each.


def with_exceptions(state: Assignment) -> Iterator[Proposal]:
    """Propose simple mistakes of the worst strips, with the patches set aside that do not fit."""
    if len(state.case.strips) < FEWEST_STRIPS:
        return
    worst = {int(slot) for strip in state.suspicious[:_WORST] for slot in strip.slots}
    known: dict[bytes, tuple[Array, Array]] = {}
    simple = chain(backwards(state), swapped(state), shifted(state))
    for proposal in simple:
        touched = np.flatnonzero(proposal.rows != state.rows)
        if not touched.size or not worst.issuperset(touched.tolist()):
            continue
        key = touched.tobytes()
        if key not in known:
            known[key] = _from_the_rest(state, touched)
        rows = _without_spoilt(state, proposal.rows, touched, *known[key])
        aside = int(np.sum((rows < -1) & (proposal.rows >= 0)))
        if 0 < aside <= _MOST_SPOILT * touched.size:
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
