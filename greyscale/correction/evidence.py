"""What is known of how one printer answers on one paper: everything sent, and what came back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from greyscale.colorimetry.arrays import Array, Indices


@dataclass(frozen=True)
class Source:
    """One reading that went into the evidence.

    Attributes
    ----------
    name, source
        The reading's name, and its file's path as it was given.
    patches
        How many patches were measured, repeats included.
    round
        How many corrections lay between chart and printer: 0 for the uncorrected print, 1 for
        the first correction, and so on. (Corrections are never stacked: each is applied alone.)
    condition, backing, observer, instrument, printer, paper, settings, created
        As the reading tells, else None.
    sha256
        Of the reading's file, in hexadecimal digits; None where there was no file.
    """

    name: str
    source: str
    patches: int
    round: int
    condition: str | None = None
    backing: str | None = None
    observer: str = "2"
    instrument: str | None = None
    printer: str | None = None
    paper: str | None = None
    settings: str | None = None
    created: datetime | None = None
    sha256: str | None = None


@dataclass(frozen=True, eq=False)
class Evidence:
    """All measurements of one printer and paper, with the device values that really were sent.

    Attributes
    ----------
    device
        Shape (n, 3): R, G, B as the printer got them (after an earlier correction's curve).
    lab
        Shape (n, 3): mean CIELAB measured for them.
    counts
        Shape (n,): how many measurements each mean is of.
    origin
        Shape (n,): index into `sources`.
    sources
        The readings.
    sd_L, sd_ab
        Standard deviation of one measurement of L*, and of a* or b*, pooled over all repeats.
    known
        Whether anything was repeated; else the two are the assumed ones.
    paper, black
        Shape (3,): CIELAB of bare paper and of the darkest patch (R = G = B = 0), means.
    """

    device: Array
    lab: Array
    counts: Array
    origin: Indices
    sources: tuple[Source, ...]
    sd_L: float
    sd_ab: float
    known: bool
    paper: Array
    black: Array

    def __len__(self) -> int:
        return len(self.device)

    @property
    def measurements(self) -> int:
        """How many measurements there are, repeats included."""
        return int(np.sum(self.counts))
