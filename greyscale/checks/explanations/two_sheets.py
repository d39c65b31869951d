"""Are readings of two sheets mixed: do some strips depart from the others as a whole?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from greyscale.checks import effects
from greyscale.checks.evidence import Assignment
from greyscale.checks.explanations.proposal import Proposal, ids_of, log_prior
from greyscale.checks.finding import Finding, signed
from greyscale.colorimetry.arrays import Array, Mask

KIND = "two sheets mixed"

_SD = 3.0  # Difference between two sheets that is believed possible, in each of L*, a*, b*.
_LEAST = 0.8  # Mean ΔE*ab between the sheets under which nothing is said.


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose the run of strips that departs from the others most credibly."""
    case = state.case
    count = len(case.strips)
    if count < 2:
        return
    runs = [(i, j) for i in range(count) for j in range(i + 1, count + 1) if 2 * (j - i) <= count]
    first, end = runs[int(np.argmax(effects.sheet_gains(state, runs, _SD)))]
    number = case.strip_number()
    members = (number >= first) & (number < end)
    basis = effects.sheet_basis(case, members, _SD)
    apart = _difference(effects.size(state, basis))
    if np.linalg.norm(apart, axis=1).mean() >= _LEAST:
        whole = state.whole.with_effect(basis)
        describe = partial(_describe, state, members, (first, end), apart)
        prior = log_prior(0.01, len(runs))
        yield Proposal(state.rows, prior, KIND, describe, whole=whole)


def _difference(shares: Array) -> Array:
    """Return the difference in L*, a*, b* at five tones from black to paper, shape (5, 3)."""
    return np.asarray(_SD * (shares[:1] + shares[1:]))


def _describe(
    state: Assignment,
    members: Mask,
    run: tuple[int, int],
    apart: Array,
    probability: float,
    rivals: Sequence[Proposal],
) -> tuple[Finding, ...]:
    strips = state.case.strips
    first, last = strips[run[0]].name, strips[run[1] - 1].name
    where = f"strip {first}" if run[1] - run[0] == 1 else f"strips {first} to {last}"
    measure = "measures" if run[1] - run[0] == 1 else "measure"
    L, a, b = apart.mean(axis=0)
    return (
        Finding(
            kind=KIND,
            where=where,
            probability=probability,
            found=f"{where[0].upper()}{where[1:]} {measure} differently from the rest at every tone"
            f", on average by L* {signed(L)}, a* {signed(a)}, b* {signed(b)}: as if read from "
            "another sheet, at another time of drying, or with another setting of the instrument.",
            advice="Read all strips of one sheet in one sitting, in one condition.",
            ids=ids_of(state, np.flatnonzero(members)),
        ),
    )
