"""What to do next with a printer and paper: from what is known of it, one step, and when.

Nothing is read here: who keeps the readings says what is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from greyscale.aims.tolerances import DEFAULT_TOLERANCE, tolerance
from greyscale.analysis.followed import (
    CHANGED,
    LEAST_READINGS,
    NOTICED_DELTA_CH,
    NOTICED_DELTA_L,
    ONCE,
    STEADY,
    TOO_FEW,
)
from greyscale.base.results import PrintNames

if TYPE_CHECKING:
    from greyscale.colorimetry.arrays import Array


# When to look at a printer again: how long until what has drifted so far would be noticed.

SHORTEST_WEEKS, USUAL_WEEKS, LONGEST_WEEKS = 1, 4, 26
"""Between two checks: at least, before the drift is known, at most; common practice, no source."""

_DAYS_KNOWN = 14.0  # Over less than this, readings tell of noise, not of drift.
_WEEK = 7.0


@dataclass(frozen=True, eq=False)
class History:
    """Readings of one print over time, printed and measured alike.

    Attributes
    ----------
    days
        Shape (n,), rising.
    moved
        Shape (n, 3): mean Δa*, Δb* and ΔL* of the tones.
    """

    days: Array
    moved: Array


@dataclass(frozen=True)
class Recheck:
    """After how long to look again.

    Attributes
    ----------
    weeks
        From the last reading on; `SHORTEST_WEEKS` to `LONGEST_WEEKS`.
    known
        Whether the drift seen so far says so; else it is `USUAL_WEEKS`.
    """

    weeks: int
    known: bool


UNKNOWN_DRIFT = Recheck(USUAL_WEEKS, False)


def recheck(histories: Sequence[History]) -> Recheck:
    """Say when the drift is expected to reach what is noticed side by side.

    Parameters
    ----------
    histories
        Of one printer and paper; each is compared only with itself.

    Examples
    --------
    >>> recheck([])
    Recheck(weeks=4, known=False)
    """
    told = [one for one in histories if len(one.days) >= 2]
    count = sum(len(one.days) for one in told)
    span = max((float(one.days[-1] - one.days[0]) for one in told), default=0.0)
    if count < LEAST_READINGS or span < _DAYS_KNOWN:
        return UNKNOWN_DRIFT
    a, b, L = drift_rate(told)
    fastest = max((a + b) / NOTICED_DELTA_CH**2, L / NOTICED_DELTA_L**2)
    # No further ahead than has been seen.
    most = min(max(span / _WEEK, USUAL_WEEKS), LONGEST_WEEKS)
    weeks = most if fastest <= 0.0 else min(1.0 / fastest / _WEEK, most)
    return Recheck(max(int(weeks), SHORTEST_WEEKS), True)


def drift_rate(histories: Sequence[History]) -> Array:
    """Compute by how much the variance of each of a history's numbers grows in a day; shape (3,).

    By restricted maximum likelihood of a level that walks at random and is read with noise (the
    local level model of Harvey, 1989, Forecasting, structural time series models and the Kalman
    filter; memory), over a grid of the walk's share.

    Parameters
    ----------
    histories
        At least one of two readings or more.
    """
    import numpy as np

    shares = np.concatenate([[0.0], np.logspace(-4.0, 2.0, 31)])
    count = sum(len(one.days) - 1 for one in histories)
    # The covariance of successive differences: what is walked between, and both readings' noise.
    log_det, squares = np.zeros(len(shares)), np.zeros((len(shares), 3))
    for one in histories:
        steps = np.diff(one.moved, axis=0)
        n = len(steps)
        noise = 2.0 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)
        walked = np.diag(np.diff(one.days))
        covariance = noise + shares[:, np.newaxis, np.newaxis] * walked
        log_det += np.linalg.slogdet(covariance)[1]
        solved = np.linalg.solve(covariance, np.broadcast_to(steps, (len(shares), n, 3)))
        squares += np.sum(steps * solved, axis=1)
    variance = squares / count
    likelihood = -(log_det[:, np.newaxis] + count * np.log(np.maximum(variance, 1e-12))) / 2.0
    best = np.argmax(likelihood, axis=0)
    return np.asarray(shares[best] * variance[best, np.arange(3)])


USUAL_DRYING = timedelta(hours=24)
"""How long a print is left to dry where nothing was measured; common practice, no source."""

PRINT_CHART, WAIT, MEASURE, SAY_HOW = "print a chart", "wait", "measure", "say how it was printed"
CORRECT, PRINT_PROOF, PROVE, ROUND = "correct", "print a proof", "prove", "another round"
RECHECK, NOTHING = "re-check", "nothing"

STEPS = (
    MEASURE, PROVE, CORRECT, ROUND, PRINT_PROOF, PRINT_CHART, RECHECK, SAY_HOW, WAIT, NOTHING,
)  # fmt: skip
"""Every step, the most pressing first: a print that lies there before one to be made, and what
can be done now before what cannot."""


@dataclass(frozen=True)
class Figures:
    """A reading in a few numbers, against the aims it was printed for; means over L*.

    Attributes
    ----------
    mean_delta_Ch, max_delta_Ch, rms_delta_L
        As an analysis has them.
    dmax
        Density of black.
    """

    mean_delta_Ch: float
    max_delta_Ch: float
    rms_delta_L: float
    dmax: float

    @property
    def is_good(self) -> bool:
        """Whether tint keeps the exhibition grade, and tone is off by less than is noticed."""
        verdict = tolerance(DEFAULT_TOLERANCE).verdict(self.mean_delta_Ch, self.max_delta_Ch)
        return verdict == "pass" and self.rms_delta_L < NOTICED_DELTA_L


@dataclass(frozen=True)
class Measured:
    """A reading.

    Attributes
    ----------
    entry, name, moment
        Its number where it is kept, what it is called, when it was measured.
    file, layout, ramp
        Names of its file and layout, and the ramp taken of it; None where it needs none.
    through
        Number of the correction that it was printed through; None without one.
    stated
        Whether anybody said so.
    says_proof
        Whether it says itself that it was printed through a correction.
    figures
        None where it has no ramp, or cannot be read.
    """

    entry: int
    name: str
    moment: datetime
    file: str
    layout: str | None = None
    ramp: str | None = None
    through: int | None = None
    stated: bool = True
    says_proof: bool = False
    figures: Figures | None = None


PROOF, READING, PRINTER = "proof", "reading", "printer"
"""What a doubt is about: the print that was made, how it was measured, or the printer as well."""


@dataclass(frozen=True)
class Proof:
    """How a print made through a correction was judged.

    Attributes
    ----------
    reading
        Of the print.
    within_tolerance
        Whether it keeps its grade.
    worth_another_round
        Whether another round was found to be worth it.
    kept
        Whether the print is what was promised, within what was stated; None where it isn't known.
    doubted
        What is in doubt, of `PROOF`, `READING` and `PRINTER`, so that it proves nothing.
    """

    reading: Measured
    within_tolerance: bool
    worth_another_round: bool
    kept: bool | None
    doubted: tuple[str, ...] = ()


@dataclass(frozen=True)
class InForce:
    """The latest correction.

    Attributes
    ----------
    entry, name, round, moment
        Its number, name and place in the sequence of rounds; when it was made.
    expected_mean_delta_Ch
        What it promised; None where it isn't known.
    condition
        That its readings were measured in; None where it isn't known.
    proof
        The latest; None where there is none.
    unproved
        The latest reading of a print made through it, without a proof; of no picture's strip.
    """

    entry: int
    name: str
    round: int
    moment: datetime
    expected_mean_delta_Ch: float | None = None
    condition: str | None = None
    proof: Proof | None = None
    unproved: Measured | None = None


@dataclass(frozen=True)
class Drift:
    """Whether the printer has changed, by control charts of readings that compare.

    Attributes
    ----------
    verdict
        As in `greyscale.analysis.trend.Trend`.
    since
        When the first reading after the change was measured; None without a change.
    delta_Ch, delta_L
        The change of the mean a*, b* and of the mean L* of the tones; 0 without one.
    """

    verdict: str = TOO_FEW
    since: datetime | None = None
    delta_Ch: float = 0.0
    delta_L: float = 0.0

    @property
    def noticed(self) -> bool:
        """Whether the change is as large as is noticed side by side."""
        return self.verdict == CHANGED and (
            self.delta_Ch >= NOTICED_DELTA_CH or abs(self.delta_L) >= NOTICED_DELTA_L
        )

    @property
    def state(self) -> str:
        """In a word or two: "too few readings", "steady", "changed a little" or "drifting"."""
        if self.noticed:
            return "drifting"
        return {CHANGED: "changed a little", STEADY: "steady", ONCE: "steady"}.get(
            self.verdict, "too few readings"
        )


@dataclass(frozen=True)
class Printed:
    """A chart that was printed and not measured yet.

    Attributes
    ----------
    entry, name, moment
        Its number, what it is called, when it was printed.
    through
        Number of the correction that it was printed through; None without one.
    dry_after
        From this paper's own drying; None where that was not measured.
    """

    entry: int
    name: str
    moment: datetime
    through: int | None = None
    dry_after: timedelta | None = None

    @property
    def dry_at(self) -> datetime:
        """When it can be measured."""
        return self.moment + (self.dry_after or USUAL_DRYING)


@dataclass(frozen=True)
class Standing(PrintNames):
    """What is known of a printer, a paper and settings.

    Attributes
    ----------
    printer, paper, settings
        Names; None where they were not stated.
    latest
        The latest reading.
    uncorrected
        The latest readings of prints that were made without a correction, the oldest first: those
        that can be joined as evidence for one.
    correction
        The one in force.
    drift
        Whether the printer has changed.
    recheck
        After how long to look again.
    printed
        A chart that waits to be measured.
    history
        When the readings that the drift is told from were measured, the oldest first, and their
        mean ΔCh.
    promises, promises_kept
        How many proofs, and control strips of pictures, were scored against what their corrections
        promised; how many kept it.
    """

    latest: Measured | None = None
    uncorrected: tuple[Measured, ...] = ()
    correction: InForce | None = None
    drift: Drift = Drift()
    recheck: Recheck = UNKNOWN_DRIFT
    printed: Printed | None = None
    history: tuple[tuple[datetime, float], ...] = ()
    promises: int = 0
    promises_kept: int = 0


@dataclass(frozen=True)
class Next:
    """The next step.

    Attributes
    ----------
    step
        One of `STEPS`.
    readings
        Those that it is done with.
    not_before
        When it can be done, or is due; None for at once.
    because_of_drift
        Whether it is asked for because the printer has changed.
    """

    step: str
    readings: tuple[Measured, ...] = ()
    not_before: datetime | None = None
    because_of_drift: bool = False


def what_next(standing: Standing, now: datetime) -> Next:
    """Say what to do next: a print that waits comes first, then the correction's own course."""
    printed, latest, made = standing.printed, standing.latest, standing.correction
    if printed is not None:
        if now < printed.dry_at:
            return Next(WAIT, not_before=printed.dry_at)
        return Next(MEASURE, not_before=printed.dry_at)
    if latest is not None and not latest.stated:
        return Next(SAY_HOW, (latest,))
    if _has_drifted(standing):
        readings = _as_it_prints_now(standing)
        return Next(CORRECT if readings else PRINT_CHART, readings, because_of_drift=True)
    if made is None:
        return _without_correction(standing, now)
    if made.proof is None:
        return Next(PRINT_PROOF) if made.unproved is None else Next(PROVE, (made.unproved,))
    if is_to_be_measured_again(made.proof.doubted):
        return Next(MEASURE, (made.proof.reading,))
    if made.proof.doubted:
        return Next(PRINT_PROOF)
    if not made.proof.within_tolerance and made.proof.worth_another_round:
        return Next(ROUND, (made.proof.reading,))
    return _look_again(standing, made.proof.reading.moment, now)


def is_to_be_measured_again(doubted: Sequence[str]) -> bool:
    """Whether a proof is in doubt for how it was measured alone: the print may well be right."""
    return set(doubted) == {READING}


def _has_drifted(standing: Standing) -> bool:
    """Say whether the printer has changed since the correction in force was made."""
    since, made = standing.drift.since, standing.correction
    return standing.drift.noticed and since is not None and made is not None and made.moment < since


def _as_it_prints_now(standing: Standing) -> tuple[Measured, ...]:
    """The uncorrected readings from after the printer has changed, if it has."""
    since = standing.drift.since
    if since is None or not standing.drift.noticed:
        return standing.uncorrected
    return tuple(one for one in standing.uncorrected if one.moment >= since)


def _without_correction(standing: Standing, now: datetime) -> Next:
    readings = _as_it_prints_now(standing)
    figures = readings[-1].figures if readings else None
    if figures is None:
        return Next(PRINT_CHART)
    if not figures.is_good:
        return Next(CORRECT, readings)
    return _look_again(standing, readings[-1].moment, now)


def _look_again(standing: Standing, seen: datetime, now: datetime) -> Next:
    """Say when to look again, from the last print that was measured, whatever it was for."""
    last = seen if standing.latest is None else max(seen, standing.latest.moment)
    due = last + timedelta(weeks=standing.recheck.weeks)
    return Next(RECHECK if now >= due else NOTHING, not_before=due)
