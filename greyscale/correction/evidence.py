"""What is known of how one printer answers on one paper: everything sent, and what came back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from greyscale.base.files import sha256_of
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.readings.reading import AXIS_TOLERANCE, Reading
from greyscale.readings.repeats import ASSUMED_SD, average_repeats

if TYPE_CHECKING:
    from greyscale.correction.correct import Correction

OPPONENT = np.array([[1, 0, -1], [-1, 2, -1]]) / np.sqrt([[2.0], [6.0]])
"""Two directions square to the grey axis, in which device values depart from it."""

_REACH_BESIDE = 0.012  # Standard deviation of offsets that tells the answer in a direction.

NEAR = 0.4
"""Patches whose channels lie further apart say nothing of the grey axis, and are left out."""


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

    @property
    def noise_spread(self) -> float:
        """Standard deviation of the logarithm of `sd_L`: of n repeats about 1/sqrt(2 n)."""
        repeats = float(np.sum(self.counts - 1)) if self.known else 0.0
        return float(1.0 / np.sqrt(2.0 * (repeats + _ASSUMED_FREEDOM)))

    @property
    def near_neutral(self) -> bool:
        """Whether device values reach out from the grey axis in both directions, at most tones.

        A ramp printed through corrections leaves the axis as well, but at each tone in one
        direction only: it does not tell how the printer answers in the other.
        """
        level = self.device.mean(axis=1)
        offset = (self.device @ OPPONENT.T)[np.ptp(self.device, axis=1) <= NEAR]
        level = level[np.ptp(self.device, axis=1) <= NEAR]
        told = []
        for middle in np.arange(0.1, 0.95, 0.1):
            around = offset[np.abs(level - middle) <= 0.1]
            if len(around) < 3:
                told.append(False)
                continue
            least = np.linalg.eigvalsh(np.cov(around.T))[0]
            told.append(bool(least > _REACH_BESIDE**2))
        return sum(told) > len(told) / 2


def evidence_from(
    readings: Sequence[Reading], previous: Correction | None = None, bits: int = 16
) -> Evidence:
    """Join readings of one printer and paper, and those of the rounds before.

    Parameters
    ----------
    readings
        Of charts that all went through `previous`, or straight to the printer.
    previous
        The correction between chart and printer, with all earlier readings in it.
    bits
        Device values reached the printer rounded to so many bits.

    Raises
    ------
    BadInput
        If there is nothing to solve from (see `evidence_checks`), or readings do not belong
        together.
    """
    from greyscale.correction.evidence import check_reading, refuse_unlike

    known = () if previous is None else previous.evidence.sources
    sources = tuple(_source(reading, 0 if previous is None else previous.round)
                    for reading in readings)  # fmt: skip
    refuse_unlike((*known, *sources))
    parts = [] if previous is None else [_Part.earlier(previous.evidence)]
    for number, reading in enumerate(readings, start=len(known)):
        check_reading(reading, through_correction=previous is not None)
        parts.append(_Part.of(reading, previous, bits, number))
    return _joined(parts, (*known, *sources))


@dataclass(frozen=True, eq=False)
class _Part:
    """What one reading, or all earlier ones together, bring in."""

    device: Array
    lab: Array
    counts: Array
    origin: Indices
    freedom: int
    sd_L: float
    sd_ab: float

    @staticmethod
    def earlier(evidence: Evidence) -> _Part:
        freedom = int(np.sum(evidence.counts - 1)) if evidence.known else 0
        return _Part(
            evidence.device, evidence.lab, evidence.counts, evidence.origin, freedom,
            evidence.sd_L, evidence.sd_ab,
        )  # fmt: skip

    @staticmethod
    def of(reading: Reading, previous: Correction | None, bits: int, number: int) -> _Part:
        averaged = average_repeats(reading)
        rows = np.ptp(averaged.reading.device, axis=1) <= NEAR
        repeats = averaged.repeatability
        sent = sent_to_printer(averaged.reading.device[rows], previous, bits)
        return _Part(
            device=sent,
            lab=averaged.reading.lab[rows],
            counts=averaged.counts[rows],
            origin=np.full(len(sent), number, dtype=np.intp),
            freedom=repeats.measurements - repeats.repeated,
            sd_L=repeats.sd_L,
            sd_ab=repeats.sd_Ch,
        )


def sent_to_printer(device: Array, previous: Correction | None, bits: int) -> Array:
    """Give what reached the printer: through the earlier curve, in whole steps of `bits`."""
    sent = device if previous is None else previous.curve.apply(device)
    steps = float(2**bits - 1)
    return np.asarray(np.round(np.clip(sent, 0.0, 1.0) * steps) / steps)


def _joined(parts: Sequence[_Part], sources: tuple[Source, ...]) -> Evidence:
    device = np.concatenate([part.device for part in parts])
    lab = np.concatenate([part.lab for part in parts])
    counts = np.concatenate([part.counts for part in parts])
    freedom = np.array([part.freedom for part in parts], dtype=np.float64)
    known = bool(freedom.sum() > 0)
    sd_L = _pooled(np.array([part.sd_L for part in parts]), freedom)
    sd_ab = _pooled(np.array([part.sd_ab for part in parts]), 2 * freedom)
    bare = np.all(device > 1 - AXIS_TOLERANCE, axis=1)
    full = np.all(device < AXIS_TOLERANCE, axis=1)
    return Evidence(
        device=device,
        lab=lab,
        counts=counts,
        origin=np.concatenate([part.origin for part in parts]),
        sources=sources,
        sd_L=sd_L if known else ASSUMED_SD,
        sd_ab=sd_ab if known else ASSUMED_SD,
        known=known,
        paper=np.average(lab[bare], axis=0, weights=counts[bare]),
        black=np.average(lab[full], axis=0, weights=counts[full]),
    )


_ASSUMED_FREEDOM = 4.0
"""The assumed repeatability counts like so many repeats: two or three patches read twice must not
pass for a noiseless instrument."""


def _pooled(sd: Array, freedom: Array) -> float:
    squares = np.sum(freedom * sd**2) + _ASSUMED_FREEDOM * ASSUMED_SD**2
    return float(np.sqrt(squares / (freedom.sum() + _ASSUMED_FREEDOM)))


def _source(reading: Reading, number: int) -> Source:
    return Source(
        name=reading.name,
        source=reading.source,
        patches=len(reading),
        round=number,
        condition=reading.condition,
        backing=reading.backing,
        observer=reading.observer,
        instrument=reading.instrument,
        printer=reading.printer,
        paper=reading.paper,
        settings=reading.settings,
        created=reading.created,
        sha256=sha256_of(reading.source),
    )
