"""Mistakes in single values, and in what a reading says of itself: each kind looks by itself.

A kind is a module with `findings(case, explanation)`. A further kind is one more file here, and
one more line in `KINDS`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from greyscale.checks.case import Case
from greyscale.checks.finding import Finding
from greyscale.checks.search import Explanation
from greyscale.checks.values import (
    condition,
    missing,
    out_of_line,
    repeats,
    reversals,
    saturated,
    spectra,
    spikes,
    surplus,
)

KINDS: tuple[Callable[[Case, Explanation], Iterable[Finding]], ...] = (
    missing.findings,
    surplus.findings,
    repeats.findings,
    out_of_line.findings,
    reversals.findings,
    spectra.findings,
    spikes.findings,
    saturated.findings,
    condition.findings,
)
"""Every kind of mistake that is looked for value by value."""
