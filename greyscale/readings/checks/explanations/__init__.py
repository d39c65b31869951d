"""Mistakes that leave a pattern in the whole reading: each kind proposes, evidence decides.

A kind is a module with `proposals(state)`, which yields what would explain values that do not
fit. A further kind is one more file here, and one more line in `KINDS`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from greyscale.readings.checks.evidence import Assignment
from greyscale.readings.checks.explanations import (
    backwards,
    exchanged,
    page_changes,
    paper_read,
    read_twice,
    rearranged,
    shifted,
    slipped,
    swapped,
    two_sheets,
    unexplained,
)
from greyscale.readings.checks.explanations.proposal import Proposal

KINDS: tuple[Callable[[Assignment], Iterator[Proposal]], ...] = (
    backwards.proposals,
    swapped.proposals,
    shifted.proposals,
    slipped.proposals,
    read_twice.proposals,
    exchanged.proposals,
    paper_read.proposals,
    rearranged.proposals,
    page_changes.proposals,
    two_sheets.proposals,
    unexplained.proposals,
)
"""Every kind of mistake that evidence decides on, the simplest first."""
