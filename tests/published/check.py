"""One published figure, and what the program finds."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Check:
    """A published figure against what is found.

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
        Where the figure is published; "memory" where it was written down from memory.
    """

    group: str
    what: str
    expected: float
    found: float
    tolerance: float
    source: str

    @property
    def difference(self) -> float:
        """Found less expected."""
        return self.found - self.expected

    @property
    def holds(self) -> bool:
        """Whether they agree to the tolerance; a rounding of the numbers themselves is let pass."""
        return abs(self.difference) <= self.tolerance * (1 + 1e-9) + 1e-12


def triple(
    group: str, what: str, names: str, expected, found, tolerance: float, source: str
) -> list[Check]:
    """Give a check for each of several numbers of one thing, as of X, Y, Z."""
    return [
        Check(group, f"{what}, {name}", float(e), float(f), tolerance, source)
        for name, e, f in zip(names.split(), expected, found, strict=True)
    ]
