"""Readings of one chart at several times, laid one over the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.colorimetry.density import density_from_lightness, visual_density
from greyscale.colorimetry.differences import delta_E_2000
from greyscale.readings.numbers import to_number
from greyscale.readings.reading import AXIS_TOLERANCE, Reading
from greyscale.readings.repeats import Repeatability, average_repeats

HOURS = "HOURS"
"""The keyword, or the column of a table, that says how old a print was when it was read."""

AFTER_PRINTING, AFTER_FIRST = "after printing", "after the first reading"
"""What hours count from."""

_PAPER_STAYS = 0.8  # ΔE00 that bare paper may change by from reading to reading.
_LEAST_SHARED = 0.8  # Share of the tones that readings of one chart have in common, at least.


@dataclass(frozen=True, eq=False)
class DryingSeries:
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
    condition, backing, observer, instrument
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
    condition: str | None
    backing: str | None
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
    tones = [_tones(one.reading) for one in averaged]
    shared = _shared(tones)
    shown = [ramp.select(own) for ramp, own in zip(tones, shared, strict=True)]
    remarks = []
    left_out = max(len(ramp) for ramp in tones) - len(shown[0])
    if left_out:
        remarks.append(f"{left_out} tones that not all readings have are left out.")
    remarks += _paper_remarks(shown)
    return DryingSeries(
        names=tuple(reading.name for reading in readings),
        sources=tuple(reading.source for reading in readings),
        hours=times,
        clock=clock,
        ids=shown[0].ids,
        level=shown[0].level,
        lab=np.stack([ramp.lab for ramp in shown]),
        density=np.stack([_density(ramp) for ramp in shown]),
        repeatability=_pooled([one.repeatability for one in averaged]),
        remarks=tuple(remarks),
        condition=readings[-1].condition,
        backing=readings[-1].backing,
        observer=readings[-1].observer,
        instrument=readings[-1].instrument,
    )


LONGEST_HOURS = 10 * 365.25 * 24


def _times(readings: Sequence[Reading], hours: Sequence[float] | None) -> tuple[Array, str]:
    """Give the time of each reading in hours, and what it counts from."""
    if hours is not None:
        if len(hours) != len(readings):
            raise BadInput(
                f"{len(hours)} times for {len(readings)} readings; give one for each, in the same "
                "order",
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


def _tones(reading: Reading) -> Reading:
    """Give the patches on the grey axis, by falling level."""
    rows = np.flatnonzero(reading.on_axis)
    return reading.select(rows[np.argsort(-reading.level[rows], kind="stable")])


def _shared(tones: Sequence[Reading]) -> list[Indices]:
    """Give the rows of each reading whose levels all readings have."""
    keys = [np.round(ramp.level, 4) for ramp in tones]
    common = keys[0]
    for own in keys[1:]:
        common = common[np.isin(common, own)]
    for ramp, own in zip(tones, keys, strict=True):
        if not common.size or common.size < _LEAST_SHARED * own.size:
            raise BadInput(
                f"is of another chart: of its {own.size} grey tones only {common.size} are in all "
                "readings; give readings of one and the same print",
                ramp.source,
            )
    return [np.flatnonzero(np.isin(own, common)) for own in keys]


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


def _density(ramp: Reading) -> Array:
    if ramp.spectra is None or ramp.wavelengths is None:
        return density_from_lightness(ramp.lab[:, 0])
    return visual_density(ramp.spectra, ramp.wavelengths)


def _pooled(repeatability: Sequence[Repeatability]) -> float:
    """Give the standard deviation of one measurement, per axis, from all repeats there are."""
    known = [one for one in repeatability if one.known] or list(repeatability)
    weights = [max(one.measurements - one.repeated, 1) for one in known]
    variance = [(one.sd_L**2 + 2 * one.sd_Ch**2) / 3 for one in known]
    return float(np.sqrt(np.average(variance, weights=weights)))
