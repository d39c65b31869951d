"""Mistakes that leave a pattern in the whole reading: each kind proposes, evidence decides.

A kind is a module with `proposals(state)`, which yields what would explain values that do not
fit. A further kind is one more file here, and one more line below.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from greyscale.checks.evidence import Assignment
from greyscale.checks.explanations import (
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
    with_exceptions,
)
from greyscale.checks.explanations.proposal import Proposal

Kind = Callable[[Assignment], Iterator[Proposal]]

SIMPLE: tuple[Kind, ...] = (
    backwards.proposals,
    swapped.proposals,
    shifted.proposals,
    read_twice.proposals,
    exchanged.proposals,
    paper_read.proposals,
    unexplained.patches,
)
"""Mistakes of a strip or two, or of a patch: one that explains everything is believed."""

FURTHER: tuple[Kind, ...] = (
    with_exceptions.proposals,
    slipped.proposals,
    rearranged.proposals,
    page_changes.proposals,
    two_sheets.proposals,
    unexplained.strips,
)
"""What else is thought of when no simple mistake explains everything."""
