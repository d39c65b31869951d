"""One possible explanation of measurements that do not fit their patches."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from greyscale.checks.evidence import Assignment
from greyscale.checks.finding import Finding
from greyscale.checks.smoothness import Precision
from greyscale.colorimetry.arrays import Indices

USE_REPAIRED = "Take the repaired reading, or read again"


@dataclass(frozen=True, eq=False)
class Proposal:
    """One possible explanation: another assignment, how likely beforehand, and how to say it.

    Attributes
    ----------
    rows
        Shape (n,): the row of each slot, -1 where nothing was measured.
    log_prior
        Logarithm of how likely such a mistake is beforehand.
    group
        Proposals of one group are variants of one mistake: they differ in detail only.
    describe
        Makes the findings from their probability and the rival variants that are nearly as
        likely.
    whole
        Precision of all slots where the proposal is an effect on the measurements, else None.
    """

    rows: Indices
    log_prior: float
    group: str
    describe: Callable[[float, Sequence[Proposal]], tuple[Finding, ...]]
    whole: Precision | None = None

    def lost(self, before: Assignment) -> Indices:
        """Return the slots that had a measurement before and have none now."""
        return np.flatnonzero((self.rows < 0) & (before.rows >= 0))


def log_prior(share: float, choices: int) -> float:
    """Return the prior of one of several equally likely mistakes: a share of readings has one.

    Examples
    --------
    >>> round(log_prior(0.01, 10), 3)
    -6.908
    """
    return log(share / max(choices, 1))


def ids_of(state: Assignment, slots: Indices) -> tuple[str, ...]:
    """Return the ids of some slots."""
    return tuple(state.case.ids[slot] for slot in slots)
