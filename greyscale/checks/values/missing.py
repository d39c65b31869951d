"""Are there patches of the chart that the reading does not have?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from greyscale.checks.case import Case, split_place
from greyscale.checks.finding import Finding
from greyscale.checks.search import Explanation

KIND = "patch missing"

_NAMED = 12  # So many patches are named one by one.


def findings(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name the patches without a measurement that no other finding accounts for."""
    named = {name for finding in explanation.findings for name in finding.lost}
    slots = np.flatnonzero((case.rows < 0) & (explanation.rows < 0))
    labels = [case.label(int(slot)) for slot in slots if case.ids[slot] not in named]
    ids = tuple(case.ids[slot] for slot in slots if case.ids[slot] not in named)
    gaps = _gaps(case)
    if labels or gaps:
        names = labels + gaps
        yield Finding(
            kind=KIND,
            where=listed(names),
            probability=1.0,
            found=f"{len(names)} of the chart's patches "
            f"{'has' if len(names) == 1 else 'have'} no measurement.",
            advice="Read what is missing and add it; without it, its tones are taken from their "
            "neighbours'.",
            ids=ids,
            lost=ids,
            misread=False,
        )


def listed(names: list[str]) -> str:
    """Join names, the last ones counted only if there are many.

    Examples
    --------
    >>> listed(["A1", "B2"])
    'A1, B2'
    """
    if len(names) <= _NAMED:
        return ", ".join(names)
    return ", ".join(names[:_NAMED]) + f" and {len(names) - _NAMED} more"


def _gaps(case: Case) -> list[str]:
    """Name places that are left out in a strip whose later places are there."""
    gaps = []
    for strip in case.strips if case.places is not None else ():
        pairs = [split_place(case.label(int(slot))) for slot in strip.slots]
        numbers = [pair[1] for pair in pairs if pair is not None]
        if numbers:
            absent = sorted(set(range(1, max(numbers))) - set(numbers))
            gaps += [f"{strip.name}{number}" for number in absent]
    return gaps
