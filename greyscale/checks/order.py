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
from greyscale.checks.likelihood import Assignment, Proposal, bare_paper, log_prior, set_aside
from greyscale.colorimetry.arrays import Array, Indices, medians
from greyscale.colorimetry.cielab import delta_E_ab


def _put_right(kind: str, where: str, found: str, there: str, ids: tuple[str, ...]) -> Finding:
    """A mistake that is put right without loss: every value is there, in its place."""
    advice = f"It can be put right, or read again: {there}."
    return Finding(kind=kind, where=where, found=found, advice=advice, ids=ids, repaired=True)


# Was a strip read from its other end?

BACKWARDS = "strip read backwards"
_IN_ORDER = "every value is there, in the chart's order"
_IN_STRIPS = "every value is there, under its own strip"


def backwards(state: Assignment) -> Iterator[Proposal]:
    """Propose each suspicious strip read from its other end."""
    prior = log_prior(0.02, len(state.case.strips))
    for strip in state.suspicious:
        if len(strip) > 1:
            rows = state.with_rows(strip.slots, state.rows[strip.slots[::-1]])
            group = f"{BACKWARDS} {strip.name}"
            yield Proposal(rows, prior, group, partial(_read_backwards, state.case, strip))


def _read_backwards(case: Case, *strips: Strip) -> list[Finding]:
    return [
        _put_right(
            BACKWARDS,
            strip.called,
            f"The values of {strip.called} fit in the opposite order: it was read backwards.",
            _IN_ORDER,
            case.ids_of(strip.slots),
        )
        for strip in strips
    ]


def in_snakes(case: Case, findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return findings, those of every other strip read backwards as one: read to and fro."""
    turned = [one for one in findings if one.kind == BACKWARDS]
    named = {one.where for one in turned}
    for first in (0, 1):
        strips = case.strips[first::2]
        if len(strips) > 1 and named == {strip.called for strip in strips}:
            names = ", ".join(strip.name for strip in strips)
            snake = _put_right(
                BACKWARDS,
                "every other strip",
                f"The values of strips {names} fit in the opposite order: the sheet was read to "
                "and fro.",
                _IN_ORDER,
                tuple(patch for one in turned for patch in one.ids),
            )
            snake = replace(snake, probability=min(one.probability for one in turned))
            return (snake, *(one for one in findings if one.kind != BACKWARDS))
    return tuple(findings)


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
                rows = state.with_rows(strip.slots, put_right(own, start, late))
                describe = partial(_shift, state.case, strip, own, start, late, turned)
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


def _shift(
    case: Case, strip: Strip, own: Indices, start: int, late: bool, turned: bool
) -> list[Finding]:
    begin = case.label(int(strip.slots[start]))
    lost = int(strip.slots[-1 if late else start])
    what = f"late: {surplus_value(case, own, start)}" if late else "early: a patch was skipped"
    shift = Finding(
        kind=SHIFTED,
        where=strip.called,
        found=f"From {begin} on, the values of {strip.called} are one patch {what}. "
        f"{case.label(lost)} was not measured.",
        advice=f"It can be put right, leaving {case.label(lost)} out; or read {strip.called} "
        "again.",
        ids=case.ids_of(strip.slots),
        lost=(case.ids[lost],),
        repaired=True,
    )
    return [*_read_backwards(case, strip), shift] if turned else [shift]


def surplus_value(case: Case, own: Indices, start: int) -> str:
    """Say what a value is that is no patch: paper, or the patch beside it once more."""
    lab = case.reading.lab
    row = own[start]
    if row < 0:
        return "a value is missing"
    # Of two values of one patch either may be taken for the surplus one.
    beside = (*own[:start][-1:], *own[start + 1 :][:1])
    if any(other >= 0 and delta_E_ab(lab[row], lab[other]) < _SAME for other in beside):
        return "a patch was read twice"
    if delta_E_ab(lab[row], bare_paper(case)) < _SAME:
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
        rows = state.with_rows(order, put_right(own, start, late)[: len(case)])
        yield Proposal(rows, prior, SLIPPED, partial(_slip, case, order, own, start, late))


def _slip(case: Case, order: Indices, own: Indices, start: int, late: bool) -> list[Finding]:
    begin = case.label(int(order[start]))
    what = f"late: {surplus_value(case, own, start)}" if late else "early: a patch was skipped"
    # A value behind the chart's last patch may be that of the last one.
    lost = () if late and len(own) > len(order) else (int(order[-1 if late else start]),)
    missing = "".join(f" {case.label(slot)} was not measured." for slot in lost)
    without = "".join(f", leaving {case.label(slot)} out" for slot in lost)
    return [
        Finding(
            kind=SLIPPED,
            where=f"from {begin} to the end",
            found=f"From {begin} to the end, all values are one patch {what}.{missing}",
            advice=f"It can be put right{without}; or read again.",
            ids=case.ids_of(order[start:]),
            lost=case.ids_of(lost),
            repaired=True,
        )
    ]


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
        # The values, one after another; of strips of unlike length, those between are moved along.
        other = {first.name: second, second.name: first}
        order = [other.get(strip.name, strip) for strip in state.case.strips]
        in_sequence = state.rows[np.concatenate([strip.slots for strip in state.case.strips])]
        moved = state.with_rows(np.concatenate([strip.slots for strip in order]), in_sequence)
        for turned in ((), (first,), (second,), (first, second)) if alike else ((),):
            rows = moved.copy()
            for strip in turned:
                rows[strip.slots] = rows[strip.slots[::-1]]
            describe = partial(_swap, state.case, first, second, turned)
            yield Proposal(rows, prior - 3.0 * len(turned), group, describe)


def _swap(case: Case, first: Strip, second: Strip, turned: Sequence[Strip] = ()) -> list[Finding]:
    names = sorted((first.name, second.name), key=lambda name: (len(name), name))
    moved = "" if len(first) == len(second) else " The strips between them were moved along."
    swap = _put_right(
        SWAPPED,
        f"strips {names[0]} and {names[1]}",
        f"Strip {names[1]} was read where strip {names[0]} belongs, and the other way "
        f"round.{moved}",
        _IN_STRIPS,
        case.ids_of(first.slots) + case.ids_of(second.slots),
    )
    return [swap, *_read_backwards(case, *turned)]


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
                rows = state.with_rows([first, second], state.rows[[second, first]])
                group = f"{EXCHANGED} {first} {second}"
                yield Proposal(rows, prior, group, partial(_exchange, case, first, second))


def _exchange(case: Case, first: int, second: int) -> list[Finding]:
    one, other = case.label(first), case.label(second)
    found = f"The value of {one} fits {other}, and the other way round."
    ids = case.ids_of([first, second])
    return [_put_right(EXCHANGED, f"{one} and {other}", found, "both values are there", ids)]


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
            rows = state.with_rows(strip.slots, -1)
            prior = log_prior(0.01, count * count) + _GAIN * len(strip)
            group = f"{READ_TWICE} {strip.name}"
            yield Proposal(rows, prior, group, partial(_second_reading, state.case, strip, other))


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


def _second_reading(case: Case, strip: Strip, other: Strip) -> list[Finding]:
    ids = case.ids_of(strip.slots)
    return [
        Finding(
            kind=READ_TWICE,
            where=f"{other.called} instead of {strip.called}",
            found=f"The values of {strip.called} are a second reading of {other.called}; "
            f"{strip.called} itself was not measured.",
            advice=f"Read {strip.called} again; the repaired reading leaves it out.",
            ids=ids,
            lost=ids,
            repaired=True,
        )
    ]


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
    yield Proposal(turned, log_prior(0.01, 1), TURNED, partial(_turned_round, case))
    if len(case.strips) < 2:
        return
    direction = [(index, True) for index in range(len(case.strips))]
    orders = [direction, [(i, False) for i, _ in reversed(direction)], _by_lightness(state)]
    for order in orders:
        moved = sum(source != (index, False) for index, source in enumerate(order))
        pairs = [
            (strip, case.strips[source].slots[:: -1 if turned else 1])
            for strip, (source, turned) in zip(case.strips, order, strict=True)
        ]
        if moved and all(len(strip) == len(source) for strip, source in pairs):
            rows = state.rows.copy()
            for strip, source in pairs:
                rows[strip.slots] = state.rows[source]
            prior = log(0.005) - moved * log(2.0 * len(order))
            yield Proposal(rows, prior, REARRANGED, partial(_rearrangement, case, order))


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


def _rearrangement(case: Case, order: Sequence[tuple[int, bool]]) -> list[Finding]:
    strips, found = case.strips, list[Finding]()
    if all(source == (index, True) for index, source in enumerate(order)):
        said = "The values of every strip fit in the opposite order: all were read backwards."
        return [_put_right(BACKWARDS, "all strips", said, _IN_ORDER, case.ids)]
    cycled: list[int] = []
    for index, (source, _) in enumerate(order):
        if source != index and order[source][0] == index:
            if index < source:
                found += _swap(case, strips[index], strips[source])
        elif source != index:
            cycled.append(index)
    if cycled:
        holder = {order[index][0]: index for index in cycled}
        names = ", ".join(strips[source].name for source in sorted(holder))
        held = ", ".join(strips[holder[source]].name for source in sorted(holder))
        said = f"Under the names of strips {names} stand the values of strips {held}."
        ids = case.ids_of(np.concatenate([strips[index].slots for index in cycled]))
        found.append(_put_right(REARRANGED, f"strips {names}", said, _IN_STRIPS, ids))
    turned = [strips[index] for index, (_, backwards) in enumerate(order) if backwards]
    return [*found, *_read_backwards(case, *turned)]


def _turned_round(case: Case) -> list[Finding]:
    single = len(case.strips) == 1
    how = "the reading starts at the other end" if single else "the sheet was turned round"
    found = f"All values fit in the opposite order: {how}."
    return [_put_right(TURNED, "the whole reading", found, _IN_ORDER, case.ids)]


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
    for proposal in chain(backwards(state), swapped(state), shifted(state)):
        slots = np.flatnonzero(proposal.rows != state.rows)
        if not slots.size or not worst.issuperset(slots.tolist()):
            continue
        key = slots.tobytes()
        if key not in known:
            # By all the others.
            rest = Assignment(state.case, state.with_rows(slots, -1), state.whole)
            known[key] = rest.predicted(slots)
        (mean, sd), rows = known[key], proposal.rows.copy()
        measured = rows[slots] >= 0
        lab = state.case.reading.lab[np.maximum(rows[slots], 0)]
        misfit = np.sum(((lab - mean) / sd) ** 2, axis=1)
        spoilt = slots[measured & (misfit > _SPOILT)]
        rows[spoilt] = set_aside(rows[spoilt])
        if 0 < spoilt.size <= _MOST_SPOILT * slots.size:
            log_prior = proposal.log_prior + _PRIOR * spoilt.size
            yield replace(proposal, rows=rows, log_prior=log_prior)
