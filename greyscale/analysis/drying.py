"""Is a print dry: how its tones change over time, and what is still to come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.analysis.drying_series import DryingSeries, drying_series
from greyscale.analysis.exponential import (
    FASTEST,
    Draws,
    ExponentialFit,
    decays,
    draw,
    fit_exponentials,
)
from greyscale.base.presented import Presented
from greyscale.base.rests_on import Support, supports
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.colorimetry.differences import delta_E_2000
from greyscale.readings.reading import Reading

WITHIN = 0.3
"""ΔE00 to its final state within which a print is held to be dry."""

SURE = 0.95
"""How sure a verdict must be; intervals hold 90 %."""

_CURVES = (1, 3, 5)  # Smooth curves over tone that a change is tried to be made of.
_SIZE = 3.0  # Change, per axis, that drying is believed capable of: standard deviation.
_DRAWS = 300
_PERCENTILES = (5.0, 50.0, 95.0)
_MINUTES, _DAY, _SLOWEST = 0.1, 24.0, 2.0  # Hours, hours, times the span of the readings.
_SHOWN = 12  # So many tones are looked at over all times.
_COURSE = 90  # Times at which the fitted course is looked at.
_VAGUE = 4.0  # A time that is uncertain by this factor is not known.
_FEWEST_TIMES = 3  # Two times tell noise from change by the repeats alone.
_FEWEST_FOR_TWO = 5  # So many a second exponential needs.
_LEAST_SD = 0.01  # No reading is more exact than its rounding.
_OWN_NOISE = 2.0  # Fitted residuals may fall short of the repeats' noise by this factor.
_SHARED = 2.0  # Shared differences that exceed their expectation by this are believed.
_HORIZON = 12.0  # How many times the longest time constant the fitted curves are looked at.


@dataclass(frozen=True)
class Candidate:
    """One fit that was tried.

    Attributes
    ----------
    terms
        How many exponentials: 0 (no change), 1 or 2.
    curves
        How many smooth curves over tone the change is made of; None leaves each tone free.
    bic
        Bayesian information criterion: the least is taken.
    """

    terms: int
    curves: int | None
    bic: float


@dataclass(frozen=True, eq=False)
class Course:
    """The fitted course at many times, for figures; G times, n tones.

    Attributes
    ----------
    hours
        Shape (G,).
    lab, density
        Shapes (G, n, 3) and (G, n).
    to_come
        Shape (G, 3): ΔE00 to the final state of the tone that has most to go; the 5th, 50th and
        95th percentile of what is credible.
    """

    hours: Array
    lab: Array
    density: Array
    to_come: Array


@dataclass(frozen=True, eq=False, repr=False)
class Drying(Presented):
    """What several readings of one print say of its drying.

    Where a figure, a final state or a course is given, it is the median of what is credible.

    Attributes
    ----------
    series
        The readings.
    candidates
        The fits that were tried, the best first.
    terms
        How many exponentials the evidence speaks for; 0 is no change beyond the noise.
    time_constants
        Shape (terms, 3): hours; percentiles as for `Course`.
    sd
        Standard deviation of one value (a tone's L*, a* or b* in one reading) about the fit.
    change
        Shape (n, 3): last reading minus first.
    change_E00, change_density
        Shape (n,): the same as ΔE00, and of density.
    final, final_sd
        Shape (n, 3): L*, a*, b* of the final state.
    final_density
        Shape (n,).
    to_come
        Shape (n, 3): ΔE00 of each tone from the last reading's state to the final one; percentiles
        as for `Course`.
    settled
        Hours at which every tone is within `WITHIN` of its final state: percentiles as for
        `Course`; None where the data cannot tell.
    trusted
        Whether the last reading can be taken for that of a dry print: "yes", "no",
        "not yet known".
    why_unknown
        Why something is not yet known, as a sentence; else None.
    course
        For figures.
    """

    series: DryingSeries
    candidates: tuple[Candidate, ...]
    terms: int
    time_constants: Array
    sd: float
    change: Array
    change_E00: Array
    change_density: Array
    final: Array
    final_sd: Array
    final_density: Array
    to_come: Array
    settled: tuple[float, float, float] | None
    trusted: str
    why_unknown: str | None
    course: Course

    @property
    def rests_on(self) -> tuple[Support, ...]:
        """The standards, constants and data behind the figures."""
        return supports("cielab", "delta-E00", "density", "dry", "first-readings")


def drying(readings: Sequence[Reading], hours: Sequence[float] | None = None) -> Drying:
    """Follow the drying of one print through several readings.

    Parameters
    ----------
    readings, hours
        As for `drying_series`.

    Raises
    ------
    BadInput
        As for `drying_series`.
    """
    return follow(drying_series(readings, hours))


def follow(series: DryingSeries) -> Drying:
    """Follow the drying of one print: fit, judge what is still to come, and say how sure."""
    values = series.lab.reshape(len(series.hours), -1)
    elapsed = series.hours - series.hours[0]
    fits = _fits(series, elapsed, values)
    candidates = tuple(candidate for candidate, _ in fits)
    best, fit = fits[0]
    sd = _sd(series, fit)
    drawn = draw(
        elapsed,
        values,
        max(best.terms, 1),
        basis=fit.basis if best.terms else _plain_basis(series.level, elapsed),
        size=_SIZE,
        sd=sd,
        limits=_limits(elapsed),
        count=_DRAWS,
        seed=1,
    )
    last = _to_come(drawn, elapsed[-1:], np.arange(len(series.level)))[:, 0]
    hours = _course_hours(elapsed, drawn)
    some = np.unique(np.linspace(0, len(series.level) - 1, _SHOWN).round().astype(np.intp))
    worst = _to_come(drawn, hours, some).max(axis=2)
    settled = _settled(hours, worst, elapsed[-1], drawn.at_the_limit)
    trusted = _verdict(float(np.mean(last.max(axis=1) <= WITHIN)))
    final = drawn.final.reshape(_DRAWS, -1, 3)
    density = _density_course(series, elapsed, drawn, np.append(hours, np.inf))
    return Drying(
        series=series,
        candidates=candidates,
        terms=best.terms,
        time_constants=np.percentile(drawn.time_constants, _PERCENTILES, axis=0).T[: best.terms],
        sd=sd,
        change=series.lab[-1] - series.lab[0],
        change_E00=delta_E_2000(series.lab[-1], series.lab[0]),
        change_density=series.density[-1] - series.density[0],
        final=np.median(final, axis=0),
        final_sd=final.std(axis=0),
        final_density=density[-1],
        to_come=np.percentile(last, _PERCENTILES, axis=0).T,
        settled=None if settled is None else tuple(series.hours[0] + time for time in settled),
        trusted=trusted,
        why_unknown=_why_unknown(elapsed, drawn, last.max(axis=1), trusted, settled),
        course=Course(
            hours=series.hours[0] + hours,
            lab=_lab_course(drawn, hours),
            density=density[:-1],
            to_come=np.percentile(worst, _PERCENTILES, axis=0).T,
        ),
    )


def _limits(elapsed: Array) -> tuple[float, float]:
    """Give the shortest and the longest time constant, in hours, that drying is believed to have.

    Common practice, no source: ink sets within minutes, and prints are left to dry for a day.
    """
    gap = float(np.diff(np.unique(elapsed)).min())
    return min(FASTEST * gap, _MINUTES), max(_SLOWEST * float(elapsed[-1]), _DAY)


def _fits(
    series: DryingSeries, elapsed: Array, values: Array
) -> list[tuple[Candidate, ExponentialFit]]:
    """Fit every number of exponentials and of curves that the data allow, the best first."""
    different = np.unique(elapsed).size
    limits = _limits(elapsed)
    fitted: list[tuple[int, int | None, ExponentialFit]] = []
    fitted.append((0, None, fit_exponentials(elapsed, values, 0)))

    def try_out(terms: int, curves: int | None) -> None:
        basis = _basis(series.level, curves)
        fit = fit_exponentials(elapsed, values, terms, basis=basis, limits=limits)
        fitted.append((terms, curves, fit))

    if different >= _FEWEST_TIMES:
        for curves in (*(count for count in _CURVES if count < len(series.level)), None):
            try_out(1, curves)
    if different >= _FEWEST_FOR_TWO:
        # A second term must earn its place on the curves that serve the first best.
        try_out(2, min(fitted[1:], key=lambda one: one[2].bic)[1])
    judged = [(Candidate(terms, curves, fit.bic), fit) for terms, curves, fit in fitted]
    return sorted(judged, key=lambda pair: pair[0].bic)


def _plain_basis(level: Array, elapsed: Array) -> Array:
    """Give the smoothest form: of a change too small to be seen, no other can be bounded."""
    few = np.unique(elapsed).size < _FEWEST_TIMES
    return _basis(level, min(_CURVES[1 if few else 0], level.size))


def _basis(level: Array, curves: int | None) -> Array:
    """Give curves over tone for L*, a* and b* each, as columns over values (tone by tone)."""
    if curves is None:
        return np.eye(3 * level.size)
    over_tone = np.polynomial.legendre.legvander(2.0 * level - 1.0, curves - 1)
    return np.asarray(np.kron(over_tone, np.eye(3)), dtype=np.float64)


def _sd(series: DryingSeries, fit: ExponentialFit) -> float:
    """Give the standard deviation of one value about the fit.

    Readings differ as a whole too (calibration, backing, placement): what all tones of a reading
    share does not average out over them, and counts as much as it weighs.
    """
    count, size = fit.values.shape
    freedom = count - 1 - fit.terms
    if np.unique(fit.hours).size < _FEWEST_TIMES or freedom < 1 or not np.isfinite(fit.sd):
        return max(series.repeatability, _LEAST_SD)
    residual = (fit.values - fit.at(fit.hours)).reshape(count, -1, 3)
    own = max(fit.sd, series.repeatability / _OWN_NOISE, _LEAST_SD)
    shared = float(np.sum(residual.mean(axis=1) ** 2)) / (3 * freedom)
    excess = shared * (size / 3) / own**2
    return own * float(np.sqrt(max(1.0, excess) if excess > _SHARED else 1.0))


def _to_come(drawn: Draws, hours: Array, tones: Indices) -> Array:
    """Give ΔE00 of some tones to their final state, shape (D, len(hours), len(tones))."""
    count = len(drawn.final)
    final = drawn.final.reshape(count, 1, -1, 3)[:, :, tones]
    rest = drawn.to_come(hours).reshape(count, len(hours), -1, 3)[:, :, tones]
    return delta_E_2000(final + rest, np.broadcast_to(final, rest.shape))


def _course_hours(elapsed: Array, drawn: Draws) -> Array:
    slowest = float(np.percentile(drawn.time_constants[:, -1], 95))
    end = max(1.3 * elapsed[-1], min(_HORIZON * slowest, 30.0 * elapsed[-1]))
    shortest = float(np.diff(np.unique(elapsed)).min())
    return shortest / 4 * np.expm1(np.linspace(0.0, np.log1p(4 * end / shortest), _COURSE))


def _settled(
    hours: Array, worst: Array, last: float, at_the_limit: float
) -> tuple[float, float, float] | None:
    """Give when the worst tone comes within `WITHIN`: percentiles; None where it is not known."""
    outside = worst > WITHIN
    ever = outside.any(axis=1)
    index = np.where(ever, worst.shape[1] - 1 - np.argmax(outside[:, ::-1], axis=1), 0)
    following = np.minimum(index + 1, worst.shape[1] - 1)
    row = np.arange(len(worst))
    above = np.maximum(worst[row, index], WITHIN)
    below = np.minimum(np.maximum(worst[row, following], WITHIN / 1e6), 0.999 * WITHIN)
    share = np.log(above / WITHIN) / np.log(above / below)
    time = hours[index] + share * (hours[following] - hours[index])
    time = np.where(ever, np.where(outside[:, -1], np.inf, time), 0.0)
    low, middle, high = np.percentile(time, _PERCENTILES, method="nearest")
    beyond = high > last
    if not np.isfinite(high) or (beyond and (at_the_limit > 1 - SURE or high > _VAGUE * low)):
        return None
    return float(low), float(middle), float(high)


def _verdict(probability: float) -> str:
    if probability >= SURE:
        return "yes"
    return "no" if probability <= 1 - SURE else "not yet known"


def _lab_course(drawn: Draws, hours: Array) -> Array:
    """Give the median course of L*, a*, b* at some times, shape (G, n, 3)."""
    course = [
        np.median(drawn.final + drawn.to_come(hours[i : i + 1])[:, 0], axis=0)
        for i in range(len(hours))
    ]
    return np.stack(course).reshape(len(hours), -1, 3)


def _density_course(series: DryingSeries, elapsed: Array, drawn: Draws, hours: Array) -> Array:
    """Give density at some times: it has the time constants of L*, a* and b*; (G, n)."""
    mean = series.density.mean(axis=0)
    constants = np.median(drawn.time_constants, axis=0)
    decay = decays(elapsed, constants)
    centre = decay.mean(axis=0)
    amplitude = np.linalg.lstsq(decay - centre, series.density - mean, rcond=None)[0]
    return np.asarray(mean + (decays(hours, constants) - centre) @ amplitude)


def _why_unknown(
    elapsed: Array, drawn: Draws, worst: Array, trusted: str, settled: object
) -> str | None:
    """Say why something is not yet known; `worst` is what is still to come, shape (D,)."""
    if settled is not None and trusted != "not yet known":
        return None
    if np.unique(elapsed).size < _FEWEST_TIMES:
        return (
            "Readings at two times show what has changed, not what is still to come: read the "
            "print again later."
        )
    low, _, high = np.percentile(worst, _PERCENTILES)
    between = f"anything from ΔE00 {low:.1f} to {high:.1f}"
    if drawn.at_the_limit > 1 - SURE:
        return (
            "Within the time of the readings the change has hardly slowed down, and still to come "
            f"may be {between}: read the print again later."
        )
    return f"Still to come may be {between}: read the print again later, or twice each time."
