"""Do paper or black, or all tones, change over the page?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from greyscale.checks import effects
from greyscale.checks.evidence import Assignment
from greyscale.checks.explanations.proposal import Proposal, log_prior
from greyscale.checks.finding import Finding, signed
from greyscale.colorimetry.arrays import Array

KIND = "change over the page"

_SD = 1.5  # Change over the page that is believed possible, in each of L*, a*, b*.
_LEAST = 0.5  # ΔE*ab over the page under which a change is not worth a word.
_FEWEST_STRIPS = 3


def proposals(state: Assignment) -> Iterator[Proposal]:
    """Propose that measurements change evenly across the strips or along them, by tone."""
    if len(state.case.strips) < _FEWEST_STRIPS:
        return
    basis = effects.page_basis(state.case, _SD)
    if effects.gain(state, basis) < 0.0:
        return
    change = _corners(effects.size(state, basis))
    if np.linalg.norm(change, axis=2).max() >= _LEAST:
        whole = state.whole.with_effect(basis)
        describe = partial(_describe, state, change)
        yield Proposal(state.rows, log_prior(0.02, 1), KIND, describe, whole=whole)


def _corners(shares: Array) -> Array:
    """Return the change of L*, a*, b* across and along the page, at three tones: (2, 3, 3)."""
    return np.asarray(_SD * shares.reshape(2, 3, 3))


def _describe(
    state: Assignment, change: Array, probability: float, rivals: Sequence[Proposal]
) -> tuple[Finding, ...]:
    strips = state.case.strips
    size = np.linalg.norm(change, axis=2)
    across = size.max(axis=1)[0] >= size.max(axis=1)[1]
    by_tone = size[0 if across else 1]
    shown = change[0 if across else 1]
    tones = [name for name, value in zip(("black", "middle tones", "paper"), by_tone, strict=True)
             if value >= _LEAST]  # fmt: skip
    tone = "all tones" if len(tones) == 3 else " and ".join(tones)
    largest = int(np.argmax(by_tone))
    way = (
        f"from strip {strips[0].name} to strip {strips[-1].name}"
        if across
        else "from the start of the strips to their end"
    )
    plural = "s" if tone in ("black", "paper") else ""
    L, a, b = shown[largest]
    return (
        Finding(
            kind=KIND,
            where=tone,
            probability=probability,
            found=f"{tone.capitalize()} change{plural} {way} by up to ΔE {by_tone[largest]:.1f} "
            f"(L* {signed(L)}, a* {signed(a)}, b* {signed(b)}).",
            advice="Let the print dry evenly and the instrument warm up, calibrate it, and read "
            "the sheet again; if it persists, the print is uneven: print the chart again.",
            misread=False,
        ),
    )
