"""What a check found, how sure it is, and what to do about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from greyscale.base.plain_text import signed
from greyscale.base.results import Presented

if TYPE_CHECKING:
    from greyscale.readings.reading import Reading

CERTAIN = 0.99
"""From this probability on a finding is called certain."""

LIKELY = 0.8
"""From this probability on a finding is called likely, below it possible."""

LEAST = 0.5
"""Findings less probable than this are not reported."""


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong with a reading, or may be.

    Attributes
    ----------
    kind
        What sort of mistake, in a few words.
    where
        The strip or the patches, as the chart labels them.
    probability
        How sure, 0 to 1.
    found
        What was seen, one or two sentences.
    advice
        What to do, one or two sentences.
    ids
        `SAMPLE_ID` of the patches concerned.
    lost
        `SAMPLE_ID` of the patches for which the reading holds no value at all.
    misread
        Whether values stand under patches that they do not belong to, or are no measurements of
        them: a reading that must not be analysed as it is.
    repaired
        Whether the repaired reading has it put right.
    """

    kind: str
    where: str
    probability: float = field(default=1.0, kw_only=True)
    found: str
    advice: str
    ids: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    misread: bool = True
    repaired: bool = False

    @property
    def certainty(self) -> str:
        """How sure in a word: certain, likely or possible."""
        if self.probability >= CERTAIN:
            return "certain"
        return "likely" if self.probability >= LIKELY else "possible"


@dataclass(frozen=True)
class SpoiltPatch:
    """A patch that fits no smooth answer of a printer that all other patches allow.

    Attributes
    ----------
    id
        Its `SAMPLE_ID`; "" where only its level is known any more.
    place
        As the chart labels it, where that is known.
    reading
        The name of the reading that it is in.
    level
        The mean of its device values, 0 to 1.
    z
        How far it departs, in standard deviations left one out.
    departure
        Measured less expected L*, a*, b*.
    index
        Where it stands in what was judged; -1 where that is not at hand.
    """

    id: str
    place: str | None
    reading: str
    level: float
    z: float
    departure: tuple[float, float, float]
    index: int = -1

    @property
    def words(self) -> str:
        """Which it is and what is wrong with it: "C4 (level 0.44, a* +4.1)"."""
        axis = int(np.argmax(np.abs(self.departure)))
        off = f"{('L*', 'a*', 'b*')[axis]} {signed(self.departure[axis], 1)}"
        name = self.place or self.id or "of an earlier round"
        return f"{name} (level {self.level:.2f}, {off})"


def spoilt_data(found: Sequence[SpoiltPatch]) -> list[dict[str, Any]]:
    """Return spoilt patches as plain data."""
    return [
        {
            "reading": one.reading,
            "id": one.id,
            "place": one.place,
            "level": one.level,
            "departure": dict(zip("Lab", one.departure, strict=True)),
            "standard_deviations": one.z,
        }
        for one in found
    ]


@dataclass(frozen=True, repr=False)
class CheckResult(Presented):
    """What the checks of one reading found.

    Attributes
    ----------
    reading
        The reading as it was given.
    findings
        Misreadings first, surest first.
    repaired
        The reading with reversible mistakes put right; None where there was nothing to put
        right. It holds measured values only: patches whose value was lost are left out.
    remarks
        What could not be checked, and why, as sentences to be shown.
    spoilt
        The patches out of line with all the others, which every other command sets aside.
    """

    reading: Reading
    findings: tuple[Finding, ...]
    repaired: Reading | None
    remarks: tuple[str, ...] = ()
    spoilt: tuple[SpoiltPatch, ...] = ()

    @property
    def clean(self) -> bool:
        """Whether nothing was found."""
        return not self.findings

    @property
    def certain(self) -> bool:
        """Whether the reading is certainly misread."""
        return any(f.misread and f.certainty == "certain" for f in self.findings)
