"""Did a strip slip by one patch: was something read that is no patch, or a patch skipped?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from greyscale.checks.case import Strip
from greyscale.checks.evidence import Assignment, bare_paper
from greyscale.checks.explanations import backwards
from greyscale.checks.explanations.proposal import (
    Proposal,
    ids_of,
    log_prior,
)
from greyscale.checks.finding import Finding
from greyscale.colorimetry.arrays import Indices
from greyscale.colorimetry.differences import delta_E_ab

KIND = "strip shifted by one patch"

_MOST = 4  # Suspicious strips that are looked at in one go: the worst ones.
_SAME = 2.0  # ΔE*ab within which a surplus value is taken for paper, or for the patch before it.


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose each slip of each of the most suspicious strips, read either way."""
    for strip in state.suspicious[:_MOST]:
        if len(strip) < 2:
            continue
        group = f"{KIND} {strip.name}"
        prior = log_prior(0.02, 2 * len(strip) * len(state.case.strips))
        for turned in (False, True):
            own = state.rows[strip.slots][:: -1 if turned else 1]
            for start, late in variants(len(strip)):
                rows = state.rows.copy()
                rows[strip.slots] = slipped(own, start, late)
                describe = partial(_describe, state, strip, start, late, turned)
                # A slip at an end of the strip is the commonest.
                further = 0.0 if start == 0 else -1.0
                yield Proposal(rows, prior + further - 3.0 * turned, group, describe)


def variants(length: int) -> Iterator[tuple[int, bool]]:
    """Name every slip that moves at least one value: where it begins, and whether it is late."""
    for start in range(length - 1):
        yield start, True
        yield start, False


def slipped(own: Indices, start: int, late: bool) -> Indices:
    """Put right a sequence that slipped by one place.

    Late: value number `start` is no patch, and all after it belong one place earlier; nothing
    is left for the last place. Early: patch number `start` was not read, and all from there on
    belong one place later; the last value is no patch.

    Examples
    --------
    >>> slipped(np.array([9, 1, 2, 3]), 0, True).tolist()
    [1, 2, 3, -1]
    >>> slipped(np.array([1, 3, 4, 9]), 1, False).tolist()
    [1, -1, 3, 4]
    """
    none = np.array([-1], dtype=np.intp)
    if late:
        return np.concatenate([own[:start], own[start + 1 :], none])
    return np.concatenate([own[:start], none, own[start:-1]])


def _describe(
    state: Assignment,
    strip: Strip,
    start: int,
    late: bool,
    turned: bool,
    probability: float,
    rivals: Sequence[Proposal],
) -> tuple[Finding, ...]:
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
        kind=KIND,
        where=strip.called,
        probability=probability,
        found=f"{found} {not_measured(state, int(lost), other)}",
        advice=f"Take the repaired reading, which leaves {label(int(lost))} out, or read "
        f"{strip.called} again.",
        ids=ids_of(state, strip.slots),
        lost=(state.case.ids[lost],),
        repaired=True,
    )
    if turned:
        return (backwards.finding(state, strip, probability), shift)
    return (shift,)


def not_measured(state: Assignment, lost: int, other: Sequence[int]) -> str:
    """Say which patch has no value, and which else it may be."""
    label = state.case.label
    names = list(dict.fromkeys(label(slot) for slot in other if slot >= 0))
    doubt = f" (or {', '.join(names)}, which measures the same)" if names else ""
    return f"{label(lost)} was not measured{doubt}."


def surplus_value(state: Assignment, own: Indices, start: int) -> str:
    """Say what a value is that is no patch: paper, or the patch before it once more."""
    lab = state.case.reading.lab
    row = own[start]
    if row < 0:
        return "a value is missing"
    if start and own[start - 1] >= 0 and delta_E_ab(lab[row], lab[own[start - 1]]) < _SAME:
        return "a patch was read twice"
    if delta_E_ab(lab[row], bare_paper(state.case)) < _SAME:
        return "bare paper was read as a patch"
    return "something other than a patch was read"
