"""Is a print dry: how its tones change over time, and what is still to come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.analysis.kinetics import (
    FEWEST_TIMES,
    KINETICS,
    LEAST_SD,
    Credible,
    Problem,
    posed,
)
from greyscale.base.errors import BadInput
from greyscale.base.plain_text import beside
from greyscale.base.rests_on import Support, supports
from greyscale.base.results import MeasuredAs, Presented, filled
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.colorimetry.cielab import delta_E_2000
from greyscale.readings.reading import AXIS_TOLERANCE, Reading, Repeatability, average_repeats
from greyscale.readings.source_file import to_number

# Readings of one chart at several times, laid one over the other.

HOURS = "HOURS"
"""The keyword, or the column of a table, that says how old a print was when it was read."""

AFTER_PRINTING, AFTER_FIRST = "after printing", "after the first reading"
"""What hours count from."""

_PAPER_STAYS = 0.8  # ΔE00 that bare paper may change by from reading to reading.
_LEAST_SHARED = 0.8  # Share of the tones that readings of one chart have in common, at least.


@dataclass(frozen=True, eq=False)
class DryingSeries(MeasuredAs):
    """The ramp of one chart, read at several times; T readings of n tones.

    Attributes
    ----------
    names, sources
        Of each reading, the earliest first.
    hours
        Shape (T,), rising.
    clock
        What the hours count from, as words: "after printing" or "after the first reading".
    ids, level
        Of each tone, by falling level.
    lab
        Shape (T, n, 3).
    density
        Shape (T, n).
    repeatability
        Standard deviation of one measurement, per axis, pooled over all readings.
    remarks
        What had to be decided, as sentences to be shown.
    observer, instrument
        As in the readings, which were measured alike; the instrument of the last one.
    """

    names: tuple[str, ...]
    sources: tuple[str, ...]
    hours: Array
    clock: str
    ids: tuple[str, ...]
    level: Array
    lab: Array
    density: Array
    repeatability: float
    remarks: tuple[str, ...]
    observer: str
    instrument: str | None


def drying_series(
    readings: Sequence[Reading], hours: Sequence[float] | None = None
) -> DryingSeries:
    """Lay readings of one chart over each other, by time.

    Parameters
    ----------
    readings
        Two or more, in any order.
    hours
        One number for each. Without them, the readings' own `HOURS`; else when they were
        measured (CREATED), counted from the first.

    Raises
    ------
    BadInput
        For one reading alone, readings all of one time, a time that is missing, readings of
        different charts, or in different conditions.
    """
    if len(readings) < 2:
        source = readings[0].source if readings else None
        raise BadInput(
            "one time only: drying shows by reading the same print again later; give two readings "
            "or more",
            source,
        )
    times, clock = _times(readings, hours)
    # To a third of a second: no two sheets are read within less.
    times = times.round(4)
    order = np.argsort(times, kind="stable")
    times = times[order]
    readings = [readings[index] for index in order]
    if times[-1] - times[0] <= 0:
        raise BadInput(
            f"all {len(readings)} readings have the same time; say how many hours after printing "
            "each was made, as --hours 0.5,2,24",
            readings[0].source,
        )
    _alike(readings)
    averaged = [average_repeats(reading) for reading in readings]
    tones = [one.reading.select(one.reading.axis_rows) for one in averaged]
    shared = _shared(tones)
    shown = [ramp.select(own) for ramp, own in zip(tones, shared, strict=True)]
    remarks = []
    left_out = max(len(ramp) for ramp in tones) - len(shown[0])
    if left_out:
        remarks.append(f"{left_out} tones that not all readings have are left out.")
    remarks += _paper_remarks(shown)
    return filled(
        DryingSeries,
        readings[-1],
        names=tuple(reading.name for reading in readings),
        sources=tuple(reading.source for reading in readings),
        hours=times,
        clock=clock,
        ids=shown[0].ids,
        level=shown[0].level,
        lab=np.stack([ramp.lab for ramp in shown]),
        density=np.stack([ramp.density for ramp in shown]),
        repeatability=_pooled([one.repeatability for one in averaged]),
        remarks=tuple(remarks),
    )


LONGEST_HOURS = 10 * 365.25 * 24


def _times(readings: Sequence[Reading], hours: Sequence[float] | None) -> tuple[Array, str]:
    """Return the time of each reading in hours, and what it counts from."""
    if hours is not None:
        if len(hours) != len(readings):
            raise BadInput(
                f"times: {len(hours)}, readings: {len(readings)}; give one for each, in order",
                "--hours",
            )
        times = np.array(hours, dtype=np.float64)
        if not np.all((times >= 0) & (times <= LONGEST_HOURS)):
            raise BadInput("hours are numbers from 0 up to ten years", "--hours")
        return times, AFTER_PRINTING
    stated = [reading.fields.get(HOURS) for reading in readings]
    if any(value is not None for value in stated):
        return _stated_hours(readings, stated), AFTER_PRINTING
    created = [reading.created for reading in readings]
    for reading in readings:
        if reading.created is None:
            raise BadInput(
                "does not say when it was measured (CREATED, or HOURS after printing); say it with "
                "--hours, one number for each reading",
                reading.source,
            )
    try:
        first = min(time for time in created if time is not None)
        seconds = [(time - first).total_seconds() for time in created if time is not None]
    except TypeError as error:
        raise BadInput(
            "some readings state their time zone and some do not; say the hours with --hours",
            readings[0].source,
        ) from error
    return np.array(seconds) / 3600.0, AFTER_FIRST


def _stated_hours(readings: Sequence[Reading], stated: Sequence[str | None]) -> Array:
    times = []
    for reading, value in zip(readings, stated, strict=True):
        number = None if value is None else to_number(value)
        if number is None or number < 0:
            said = "no HOURS" if value is None else f"HOURS '{value}'"
            raise BadInput(
                f"states {said} after printing; say it with --hours, one number for each reading",
                reading.source,
            )
        times.append(number)
    return np.array(times, dtype=np.float64)


def _alike(readings: Sequence[Reading]) -> None:
    """Refuse readings that differ in more than their time."""
    first = readings[0]
    for reading in readings[1:]:
        for what in ("condition", "backing", "observer", "paper", "printer"):
            own, other = getattr(reading, what), getattr(first, what)
            if None not in (own, other) and own != other:
                raise BadInput(
                    f"its {what} is {own}, but that of {first.source} is {other}; give readings "
                    "of one print, read in the same way each time",
                    reading.source,
                )


def _shared(tones: Sequence[Reading]) -> list[Indices]:
    """Return the rows of each reading whose levels all readings have."""
    keys = [np.round(ramp.level, 4) for ramp in tones]
    all_have = set(keys[0].tolist()).intersection(*(own.tolist() for own in keys[1:]))
    common = np.array([level for level in keys[0].tolist() if level in all_have])
    for ramp, own in zip(tones, keys, strict=True):
        if not common.size or common.size < _LEAST_SHARED * own.size:
            raise BadInput(
                f"is of another chart: of its {own.size} grey tones only {common.size} are in all "
                "readings; give readings of one and the same print",
                ramp.source,
            )
    return [np.flatnonzero([level in all_have for level in own.tolist()]) for own in keys]


def _paper_remarks(ramps: Sequence[Reading]) -> list[str]:
    """Wonder at bare paper that changes: there is nothing in it to dry."""
    if ramps[0].level[0] < 1.0 - AXIS_TOLERANCE:
        return []
    papers = np.stack([ramp.lab[0] for ramp in ramps])
    change = float(delta_E_2000(papers, np.broadcast_to(papers[0], papers.shape)).max())
    if change < _PAPER_STAYS:
        return []
    return [
        f"Bare paper, which has nothing to dry, changed by ΔE00 {change:.1f}: are these readings "
        "of one print, read with one calibrated instrument?"
    ]


def _pooled(repeatability: Sequence[Repeatability]) -> float:
    """Return the standard deviation of one measurement, per axis, from all repeats there are."""
    known = [one for one in repeatability if one.known] or list(repeatability)
    weights = [max(one.measurements - one.repeated, 1) for one in known]
    variance = [(one.sd_L**2 + 2 * one.sd_Ch**2) / 3 for one in known]
    return float(np.sqrt(np.average(variance, weights=weights)))


WITHIN = 0.3
"""ΔE00 to its final state within which a print is held to be dry."""

SURE = 0.95
"""How sure a verdict must be; intervals hold 90 %."""

_DRAWS = 300
_WIDE = 1500  # Draws from which so many are taken,
_WIDER = 0.5  # made so much more widely than the readings allow;
_LIKELY_SO = 4.0  # of those that are nearly as likely as any that leave as much to come.
_PERCENTILES = (5.0, 50.0, 95.0)
_SHOWN = 8  # So many tones are looked at over all times.
_COURSE = 60  # Times at which the fitted course is looked at.
_VAGUE = 4.0  # A time that is uncertain by this factor is not known.
# What may still come has no upper end where time constants longer by the first factor would let
# it be larger by the second: then the longest one allowed makes that end, not the readings.
_SLOWER, _MORE = 4.0, 1.25
_BEYOND = 1.3  # Curves are looked at over so many times the span of the readings, at least.
_HORIZON = 12.0  # How many times the longest time constant the fitted curves are looked at.
# Log odds from which a change is told from noise: three to one (Jeffreys 1961; memory).
_WORTH_MENTION = 1.1
_AGAIN = (0.5, 1, 2, 3, 4, 6, 8, 12, 18, 24, 36, 48, 72, 96, 168, 336, 672, 1344)
_LIKELY = 0.7  # A further reading is worth its while if it says "dry" as often as this.
_LATER = 1.2  # Nor is it made before the print is older by this factor.
# Nor after it is older by that one, and a day old: where slow laws are still credible a reading in
# between tells how slow, and nobody need wait for weeks to learn that the print was dry tomorrow.
_NOT_LATER, _A_DAY = 8.0, 24.0


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
        95th percentile, over the same draws as `Drying.to_come`, and infinite as there.
    """

    hours: Array
    lab: Array
    density: Array
    to_come: Array


@dataclass(frozen=True, eq=False, repr=False)
class Drying(Presented):
    """What several readings of one print say of its drying.

    `terms` and `time_constants` are of the laws as probable as the readings make them. `final`,
    `to_come`, `settled`, `trusted`, `probability`, `read_again` and `course` come from draws of all
    laws alike, spread by how far the readings bound what is still to come (profile likelihood):
    medians, standard deviations, percentiles and probabilities are over those.

    Attributes
    ----------
    series
        The readings.
    laws, probabilities
        The laws of drying, and how probable each is.
    terms
        How many changes at once the likeliest law has; 0 where none is beyond the noise.
    time_constants
        Shape (terms, 3): hours; percentiles as for `Course`. Of the likeliest law where that is one
        or two exponentials and there is a change, but for where `not_before` is stated; else none.
    sd
        Standard deviation of one value (a tone's L*, a* or b* in one reading) about the fit.
    change
        Shape (n, 3): last reading minus first.
    change_E00, change_density
        Shape (n,): the same as ΔE00, and of density.
    final, final_sd
        Shape (n, 3): L*, a*, b* of the final state; NaN where `not_before` is stated.
    final_density
        Shape (n,); NaN there too.
    to_come
        Shape (n, 3): ΔE00 of each tone from the last reading's state to the final one; the 5th and
        50th percentile, and what no tone exceeds with a probability of 95 %. Where `not_before` is
        stated the last two are infinite.
    settled
        Hours at which every tone is within `WITHIN` of its final state: percentiles as for
        `Course`; None where the data cannot tell, nor whether that is so at the last of them.
    not_before
        Hours before which a print that is not dry will not be, with a probability of 95 %, where
        its change may be slower than any that was tried: what is still to come has no upper bound
        then. Else None.
    trusted
        Whether the last reading can be taken for that of a dry print: "yes", "no",
        "not yet known".
    probability
        That it can.
    why_unknown
        Why something is not yet known, as a sentence; else None.
    read_again
        The hour at which a further reading would likely show that the print is dry, or tell most of
        it before the print is much older; None where it is, or is older than eight weeks.
    course
        For figures.
    """

    series: DryingSeries
    laws: tuple[str, ...]
    probabilities: Array
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
    not_before: float | None
    trusted: str
    probability: float
    why_unknown: str | None
    read_again: float | None
    course: Course

    @property
    def rests_on(self) -> tuple[Support, ...]:
        """The standards, constants and data behind the figures."""
        return supports("cielab", "delta-E00", "density", "dry", "drying-laws", "same-print")


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
    problem, sd = posed(series.hours, series.level, series.lab, series.repeatability)
    credible = problem.draw(KINETICS, _DRAWS, seed=1)
    changed = credible.log_evidence > _WORTH_MENTION
    likeliest = int(np.argmax(credible.probabilities))
    told = np.unique(series.hours).size >= FEWEST_TIMES
    constants = np.percentile(credible.time_constants(likeliest), _PERCENTILES, axis=0).T
    drawn = _bounded(series, problem)
    last = _last(series, drawn)
    hours = _course_hours(series.hours, drawn)
    some = np.unique(np.linspace(0, len(series.level) - 1, _SHOWN).round().astype(np.intp))
    worst = _to_come(drawn, hours, some).max(axis=2)
    settled = _settled(hours, worst, float(series.hours[-1]))
    probability = float(np.mean(last.max(axis=1) <= WITHIN))
    trusted = _verdict(probability)
    if trusted == "yes" and not told:
        trusted = "not yet known"
    if trusted == "not yet known":
        settled = None
    again = None if trusted == "yes" else _read_again(series, drawn, problem, some)
    final = drawn.final.reshape(_DRAWS, -1, 3)
    density = _density_course(series, drawn, np.append(hours, np.inf))
    found = Drying(
        series=series,
        laws=tuple(law.name for law in credible.laws),
        probabilities=credible.probabilities,
        terms=credible.laws[likeliest].terms if changed else 0,
        time_constants=constants if changed and told else constants[:0],
        sd=sd,
        change=series.lab[-1] - series.lab[0],
        change_E00=delta_E_2000(series.lab[-1], series.lab[0]),
        change_density=series.density[-1] - series.density[0],
        final=np.median(final, axis=0),
        final_sd=final.std(axis=0),
        final_density=density[-1],
        to_come=_of_every_tone(last),
        settled=settled,
        not_before=None,
        trusted=trusted,
        probability=probability,
        why_unknown=_why_unknown(series, last.max(axis=1), settled),
        read_again=again,
        course=Course(
            hours=hours,
            lab=drawn.course(hours).reshape(len(hours), -1, 3),
            density=density[:-1],
            to_come=np.percentile(worst, _PERCENTILES, axis=0).T,
        ),
    )
    if trusted != "no":
        return found
    slower = _last(series, _bounded(series, problem.slower(_SLOWER)))
    most = [np.percentile(one.max(axis=1), _PERCENTILES[-1]) for one in (last, slower)]
    return _without_end(found, worst, last.max(axis=1)) if most[1] > _MORE * most[0] else found


def _without_end(found: Drying, worst: Array, last: Array) -> Drying:
    """The same without what the longest time constant tried would say, not the readings."""
    elapsed = found.course.hours - found.course.hours[0]
    read = elapsed <= _BEYOND * (found.series.hours[-1] - found.series.hours[0])
    least, course = found.to_come.copy(), found.course.to_come[read]
    least[:, 1:] = course[:, 1:] = np.inf
    unknown = np.full(found.final.shape, np.nan)
    hours = np.minimum(_dry_from(found.course.hours, worst), found.course.hours[-1])
    low = beside(float(np.percentile(last, _PERCENTILES[0])), WITHIN, 1)
    return replace(
        found,
        settled=None,
        not_before=float(np.percentile(hours, _PERCENTILES[0], method="nearest")),
        why_unknown=f"There may be anything from ΔE00 {low} up still to come.",
        time_constants=found.time_constants[:0],
        to_come=least,
        final=unknown, final_sd=unknown, final_density=unknown[:, 0],
        course=Course(
            found.course.hours[read], found.course.lab[read], found.course.density[read], course
        ),
    )  # fmt: skip


def _bounded(series: DryingSeries, problem: Problem) -> Credible:
    """Draws whose ΔE00 still to come, of the tone with most, is spread as the readings bound it.

    How likely a slow change is before the readings nobody knows; where they leave it unseen, such
    guesses would say that the print is dry. So each amount still to come is held to be as likely as
    the law, constants and size that serve it best make the readings (profile likelihood), and
    spread by the signed root of that (Barndorff-Nielsen and Cox 1994, Inference and asymptotics,
    2.4; Schweder and Hjort 2016, Confidence, likelihood, probability, 3; memory).
    """
    from scipy.special import ndtr

    wide = problem.draw(KINETICS, _WIDE, seed=2, belief=0.0, power=_WIDER)
    tones = np.arange(len(series.level))
    last = _last(series, wide).max(axis=1)
    wide = wide.taken(np.argsort(last))
    last.sort()
    # What each law, constants and size expect, and how surely.
    final, rest = (one.reshape(_WIDE, -1, 3) for one in (wide.final, wide.rest))
    away = delta_E_2000(final + rest, final)
    worst = np.argmax(away, axis=1)
    away, rest = away[np.arange(_WIDE), worst], rest[np.arange(_WIDE), worst]
    size = np.maximum(np.linalg.norm(rest, axis=1), 1e-9)
    basis = problem.basis.reshape(tones.size, 3, -1)[worst]
    along = np.einsum("di,dis->ds", rest / size[:, np.newaxis], basis)
    per_unit = np.where(size > LEAST_SD, away / size, 1.0)
    sd = np.maximum(np.sqrt(np.sum(along**2 * wide.variance, axis=1)) * per_unit, LEAST_SD / 10)
    logs = wide.log_likelihood
    profile = np.array([np.max(logs - ((amount - away) / sd) ** 2 / 2) for amount in last])
    best = int(np.argmax(profile))
    lost = np.maximum.accumulate(profile), np.maximum.accumulate(profile[::-1])[::-1]
    lost = profile[best] - np.minimum(*lost)
    confidence = ndtr(np.sqrt(2 * lost) * np.sign(np.arange(_WIDE) - best))
    likely = np.flatnonzero((profile - logs < _LIKELY_SO) | (np.arange(_WIDE) == best))
    between = (confidence[likely][1:] + confidence[likely][:-1]) / 2
    rows = np.searchsorted(between, (np.arange(_DRAWS) + 0.5) / _DRAWS)
    return wide.taken(likely[rows])


def _to_come(drawn: Credible, hours: Array, tones: Indices) -> Array:
    """ΔE00 of some tones to their final state, shape (D, len(hours), len(tones))."""
    count = len(drawn.final)
    final = drawn.final.reshape(count, 1, -1, 3)[:, :, tones]
    rest = drawn.to_come(hours).reshape(count, len(hours), -1, 3)[:, :, tones]
    return delta_E_2000(final + rest, np.broadcast_to(final, rest.shape))


def _last(series: DryingSeries, drawn: Credible) -> Array:
    """ΔE00 still to come of every tone at the last reading, shape (D, n)."""
    return _to_come(drawn, series.hours[-1:], np.arange(len(series.level)))[:, 0]


def _of_every_tone(last: Array) -> Array:
    """Percentiles of draws (D, n), shape (n, 3), the last so far up that it holds for all tones at
    once: whichever has most to go is no tone picked at random."""
    low, middle, high = _PERCENTILES
    ranks = (np.argsort(np.argsort(last, axis=0), axis=0) + 0.5) * (100.0 / len(last))
    together = np.percentile(ranks.max(axis=1), high)
    found = np.percentile(last, (low, middle, together), axis=0)
    found[2] = np.minimum(found[2], np.percentile(last.max(axis=1), high))
    return np.asarray(found.T)


def _course_hours(hours: Array, drawn: Credible) -> Array:
    elapsed = hours - hours[0]
    slowest = float(np.percentile(np.exp(drawn.constants[:, 0]), 95))
    end = max(_BEYOND * elapsed[-1], min(_HORIZON * slowest, 30.0 * elapsed[-1]))
    shortest = float(np.diff(np.unique(hours)).min())
    after = shortest / 4 * np.expm1(np.linspace(0.0, np.log1p(4 * end / shortest), _COURSE))
    return np.asarray(hours[0] + after)


def _dry_from(hours: Array, worst: Array) -> Array:
    """When the worst tone of each draw comes within `WITHIN`, shape (D,)."""
    outside = worst > WITHIN
    ever = outside.any(axis=1)
    index = np.where(ever, worst.shape[1] - 1 - np.argmax(outside[:, ::-1], axis=1), 0)
    following = np.minimum(index + 1, worst.shape[1] - 1)
    row = np.arange(len(worst))
    above = np.maximum(worst[row, index], WITHIN)
    below = np.minimum(np.maximum(worst[row, following], WITHIN / 1e6), 0.999 * WITHIN)
    share = np.log(above / WITHIN) / np.log(above / below)
    time = hours[index] + share * (hours[following] - hours[index])
    return np.where(ever, np.where(outside[:, -1], np.inf, time), hours[0])


def _settled(hours: Array, worst: Array, last: float) -> tuple[float, float, float] | None:
    """The percentiles of that; None where it is not known."""
    time = _dry_from(hours, worst)
    low, middle, high = np.percentile(time, _PERCENTILES, method="nearest")
    if not np.isfinite(high) or (high > last and high - hours[0] > _VAGUE * (low - hours[0])):
        return None
    return float(low), float(middle), float(high)


def _read_again(
    series: DryingSeries, drawn: Credible, problem: Problem, tones: Indices
) -> float | None:
    """The first hour at which one more reading would likely show that the print is dry then.

    If there is none before the print is much older, the last before that.

    What each credible course would show at that hour is held against all of them, along the way
    that they differ most in what is still to come (preposterior analysis; Raiffa and Schlaifer
    1961; memory).
    """
    random = np.random.default_rng(2)
    age = series.hours[-1]
    hours = np.array([hour for hour in _AGAIN if hour > _LATER * age])
    if not hours.size:
        return None
    hours = hours[: max(1, int(np.sum(hours <= max(_NOT_LATER * age, _A_DAY))))]
    dry = np.all(_to_come(drawn, hours, tones) <= WITHIN, axis=2)
    rest = drawn.to_come(series.hours[-1:])[:, 0]
    way = np.linalg.svd(rest, full_matrices=False)[2][0]
    sd = float(np.linalg.norm(way @ problem.basis))
    along = (drawn.final[:, np.newaxis] + drawn.to_come(hours)) @ way
    settling = np.zeros(hours.size)
    for index in range(hours.size):
        shown = along[:, index] + random.normal(0.0, sd, len(along))
        logs = -((shown[:, np.newaxis] - along[:, index]) ** 2) / (2 * sd**2)
        weights = np.exp(logs)
        sure = weights @ dry[:, index] / weights.sum(axis=1)
        settling[index] = np.mean(sure >= SURE)
    # None may be as likely as that: then the last, which tells most.
    likely = np.flatnonzero(settling >= _LIKELY)
    return float(hours[likely[0] if likely.size else -1])


def _verdict(probability: float) -> str:
    if probability >= SURE:
        return "yes"
    return "no" if probability <= 1 - SURE else "not yet known"


def _density_course(series: DryingSeries, drawn: Credible, hours: Array) -> Array:
    """Density at some times: it changes in step with L*, a* and b*; (G, n)."""
    share = drawn.share_left(series.hours)
    centred = share - share.mean()
    mean = series.density.mean(axis=0)
    amplitude = centred @ (series.density - mean) / max(float(centred @ centred), 1e-12)
    return np.asarray(mean + np.multiply.outer(drawn.share_left(hours) - share.mean(), amplitude))


def _why_unknown(series: DryingSeries, worst: Array, settled: object) -> str | None:
    """Why something is not yet known; `worst` is what is still to come, shape (D,)."""
    if settled is not None:
        return None
    if np.unique(series.hours).size < FEWEST_TIMES:
        return "Readings at two times show what has changed, not what is still to come."
    low, _, high = np.percentile(worst, _PERCENTILES)
    digits = 2 if high < 2 * WITHIN else 1
    least, most = (beside(float(one), WITHIN, digits) for one in (low, high))
    return f"There may be anything from ΔE00 {least} to {most} still to come."
