"""One figure from outside, of what kind it is, and what the program finds."""

from __future__ import annotations

from dataclasses import dataclass

KINDS = ("published", "second library", "by hand", "memory")
"""Of what kind a figure is: read in its source and independent of the program; computed by an
independent library; worked by hand from a formula in its source; written down from memory."""


@dataclass(frozen=True)
class Check:
    """A figure from outside against what is found.

    Attributes
    ----------
    group
        What it belongs to.
    what
        The quantity.
    expected, found
        As published, and as computed by the program.
    tolerance
        How much they may differ, which follows from the digits that are published, or from what
        the source itself says of its accuracy.
    source
        Where the figure is published, which library computed it, or what was worked by hand.
    kind
        One of `KINDS`.
    """

    group: str
    what: str
    expected: float
    found: float
    tolerance: float
    source: str
    kind: str = "published"

    @property
    def difference(self) -> float:
        """Found less expected."""
        return self.found - self.expected

    @property
    def holds(self) -> bool:
        """Whether they agree to the tolerance; a rounding of the numbers themselves is let pass."""
        return abs(self.difference) <= self.tolerance * (1 + 1e-9) + 1e-12


def triple(
    group: str,
    what: str,
    names: str,
    expected,
    found,
    tolerance: float,
    source: str,
    kind: str = "published",
) -> list[Check]:
    """Return a check for each of several numbers of one thing, as of X, Y, Z."""
    return [
        Check(group, f"{what}, {name}", float(e), float(f), tolerance, source, kind)
        for name, e, f in zip(names.split(), expected, found, strict=True)
    ]
